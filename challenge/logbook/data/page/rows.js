// Entries of this page to rows of the files, and back.

// A correction travels in the note: the files have no other place for it.
const MARK = / ?\[(\w+) corrected (\d{4}-\d\d-\d\dT\d\d:\d\d), before: ([^\]]*)\]/g;
const marks = (changes) => changes.map((c) => ` [${c.shown} corrected ${c.at}, before: ${String(c.before ?? "").replaceAll("]", ")")}]`).join("");

function rowsOf(entry, field, shown) {
  const own = (entry.history ?? []).filter((c) => c.field === field).map((c) => ({ ...c, shown }));
  const moved = (entry.history ?? []).filter((c) => c.field === "time").map((c) => ({ ...c, shown: "time" }));
  const written = own.length ? own[own.length - 1].at : entry.entered_at;
  return { own: [...own, ...moved], written };
}

function symptomRows(entries) {
  const rows = [];
  for (const entry of entries) {
    const values = entry.kind === "stool" ? { stool_form: entry.form } : entry.kind === "rating" ? entry.scores : {};
    let note = entry.note ?? "";
    for (const [symptom, score] of Object.entries(values)) {
      const { own, written } = rowsOf(entry, symptom, "score");
      rows.push({ time: entry.time, symptom, score, note: (note + marks(own)).trim(), entered_at: written });
      note = ""; // a note stands once, on the first score of its rating
    }
  }
  return rows;
}

function foodRows(entries) {
  return entries.filter((e) => e.kind === "food").map((entry) => {
    const changes = (entry.history ?? []).filter((c) => c.field !== "note");
    const written = changes.length ? changes[changes.length - 1].at : entry.entered_at;
    return { ...entry, note: ((entry.note ?? "") + marks(changes.map((c) => ({ ...c, shown: c.field })))).trim(), entered_at: written };
  });
}

const eventRows = (entries) => entries.filter((e) => e.kind === "event");

function unmark(note, own) {
  const history = [];
  const rest = note.replace(MARK, (_, shown, at, before) => {
    const field = shown === "score" ? own : shown;
    history.push({ at, field, before: /^\d+$/.test(before) && field !== "food" ? Number(before) : before });
    return "";
  });
  return { note: rest.trim(), history };
}

const isTime = (text) => fromWall(text) !== null && text.length >= 16;
const numberOrNull = (text) => (text === "" || text === undefined ? null : Number(text));

// Rows of one file to new entries; what cannot be read is told, line by line.
function entriesFrom(rows) {
  const entries = [], wrong = [], ratings = new Map();
  rows.forEach((row, i) => {
    const bad = (why) => wrong.push(`line ${i + 2}: ${why}`);
    if ("symptom" in row) {
      const score = Number(row.score);
      const stool = row.symptom === "stool_form";
      if (!isTime(row.time)) return bad("the time cannot be read");
      if (row.score === "" || !Number.isInteger(score) || score < (stool ? 1 : 0) || score > (stool ? 7 : 10)) return bad("the score cannot be read");
      const { note, history } = unmark(row.note ?? "", row.symptom);
      const time = row.time.slice(0, 16);
      if (stool) return void entries.push({ kind: "stool", time, form: score, note, history, entered_at: row.entered_at ?? "" });
      const entry = ratings.get(time) ?? { kind: "rating", time, scores: {}, note: "", history: [], entered_at: "" };
      if (!ratings.has(time)) { ratings.set(time, entry); entries.push(entry); }
      if (row.symptom in entry.scores) return bad(`a second score for ${row.symptom} at the same time`);
      entry.scores[row.symptom] = score;
      entry.note = entry.note || note;
      // a score that was never corrected tells when the rating was first written down
      if (!history.some((c) => c.field === row.symptom) || entry.entered_at === "") entry.entered_at = row.entered_at ?? "";
      entry.history.push(...history);
    } else if ("food" in row) {
      if (!isTime(row.time) || row.food === "") return bad("the time or the food is missing");
      const portion = numberOrNull(row.portion_g), grams = numberOrNull(row.fodmap_g);
      if (Number.isNaN(portion) || Number.isNaN(grams)) return bad("the amount cannot be read");
      const { note, history } = unmark(row.note ?? "", "food");
      entries.push({ kind: "food", time: row.time.slice(0, 16), food: row.food, portion_g: portion, fodmap_group: row.fodmap_group ?? "", fodmap_g: grams, note, history, entered_at: row.entered_at ?? "" });
    } else if ("event" in row) {
      if (fromWall(row.start) === null || row.event === "") return bad("the day or the event is missing");
      entries.push({ kind: "event", start: row.start, end: row.end, event: row.event, note: row.note ?? "", history: [], entered_at: "" });
    }
  });
  return { entries, wrong };
}

// What makes two entries the same one, whatever page or device wrote them.
function sameEntry(a, b) {
  if (a.kind !== b.kind) return false;
  if (a.kind === "event") return a.start === b.start && a.event === b.event;
  return a.time === b.time && (a.kind !== "food" || a.food === b.food);
}
const valuesOf = (e) => JSON.stringify(e.kind === "rating" ? Object.entries(e.scores).sort() : e.kind === "stool" ? e.form : e.kind === "food" ? [e.portion_g, e.fodmap_group, e.fodmap_g] : [e.end]);
// ... and whether an entry stood at that other time before its time was corrected.
const wasOnce = (now, earlier) => now.kind !== "event" && (now.history ?? []).some((c) => c.field === "time" && sameEntry({ ...now, time: c.before }, earlier));
