// What is on the screen, drawn anew from the store after every change.

const $ = (id) => document.getElementById(id);
function el(tag, attributes = {}, ...children) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else if (value === true) node.setAttribute(name, "");
    else if (value !== false && value !== null && value !== undefined) node.setAttribute(name, value);
  }
  node.append(...children.filter((child) => child !== null && child !== undefined));
  return node;
}
function svg(tag, attributes, ...children) {
  const node = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, value);
  node.append(...children);
  return node;
}
const say = (text) => $("said").replaceChildren(...(text ? [el("p", {}, text)] : []));
const words = (name) => name.replaceAll("_", " ");
const plural = (n, one, many = `${one}s`) => `${n} ${n === 1 ? one : many}`;
const labelOf = (symptom) => { const text = words(symptom); return text[0].toUpperCase() + text.slice(1); };

const planOn = (date) => DATA.plan.find((day) => day.date === date) ?? null;
const wanted = (date) => (planOn(date)?.phase === "challenge" ? DATA.ratings.challenge : DATA.ratings.usual);
const live = () => readEntries().entries.filter((entry) => !entry.removed);
const dayOf = (entry) => (entry.kind === "event" ? entry.start : diaryDay(entry.time));

const PHASES = {
  baseline: "Baseline: eat as on the restricted diet, no challenge food today.",
  washout: "Washout: eat as on the restricted diet, no challenge food today.",
  rest: "Rest day: no challenge food today.",
};
function planSentence(day) {
  if (day === null) return "This day is not in your plan.";
  if (day.phase !== "challenge") return PHASES[day.phase];
  if (day.held) return "No challenge food now: a question has to be settled first. Your dietitian knows which one.";
  return `Challenge${day.fodmap_group ? `: ${words(day.fodmap_group)}` : ""}${day.step ? `, step ${day.step}` : ""}.`;
}
const doseWords = (day) => `${day.portion_g === null ? "" : `${day.portion_g}\u00a0${day.unit} `}${day.food}${day.measure ? ` (${day.measure})` : ""}`;

function notice(title, text, ...more) {
  return el("div", { class: "card notice" }, el("p", {}, el("strong", {}, title)), el("p", {}, text), ...more);
}

function notices(entries, damaged) {
  const found = [];
  if (state === "forbidden") found.push(notice("This browser does not keep entries.", "Storage is switched off for this page (a private window, or a setting). What you write is gone when you close the page. Export it before you close, open the page in another browser, or use the paper diary."));
  if (state === "full") found.push(notice("The storage of this browser is full.", "New entries cannot be kept. What is already here stays. Export it now, then free space in the browser, or go on with the paper diary."));
  if (laterSchema()) found.push(notice("A newer page was used on this device.", "Its entries are kept and can only be read there. This page does not touch them. Please open the newest page you were given."));
  else if (recall("made", "") > DATA.made) found.push(notice("This page is older than one used before.", "Your entries are all here and nothing is lost, but the plan on this page may be out of date. Please open the newest page you were given."));
  if (damaged) found.push(notice(`${plural(damaged, "entry", "entries")} cannot be read.`, "They are left as they are and are missing from exports. Please tell your dietitian."));
  const clock = recall("clock", 0);
  if (Date.now() < clock - 120000) found.push(notice("Has the clock been put back?", `You last wrote here at ${wall(new Date(clock)).replace("T", ", ")}, and this device now shows an earlier time. No entry is lost. Please check the date and time before you go on.`));
  const today = diaryDay(wall(new Date()));
  if (DATA.plan.length && today > DATA.plan[DATA.plan.length - 1].date) found.push(notice("This plan has ended.", "You can still write and export. Please ask for the page of your next plan."));
  if (needsExport(entries)) found.push(notice("Time to send an export.", "A week has passed since your last one. Browsers sometimes clear what pages keep; an export is the only copy elsewhere.", el("p", {}, el("a", { href: "#export", class: "button" }, "Go to the export"))));
  return found;
}

const WEEK = 7 * 86400000;
const unexported = (entries) => entries.filter((entry) => entry.at > recall("exported", 0));
function needsExport(entries) {
  const waiting = unexported(entries);
  if (!waiting.length) return false;
  const since = recall("exported_on", Math.min(...waiting.map((entry) => entry.at)));
  return Date.now() - since >= WEEK;
}

function drawToday(entries) {
  const date = diaryDay(wall(new Date()));
  const day = planOn(date);
  $("date").textContent = spoken(date);
  const dose = day?.phase === "challenge" && !day.held;
  const eaten = dose ? entries.filter((e) => e.kind === "food" && dayOf(e) === date && e.food === day.food) : [];
  const parts = [el("p", {}, planSentence(day))];
  if (dose) {
    parts.push(el("p", { class: "plan-food" }, doseWords(day)), el("p", { class: "soft" }, `When: ${DATA.eat_at}.`));
    if (!eaten.length) {
      if (day.only) parts.push(el("p", { id: "only" }, day.only));
      const before = planOn(day.after);
      const known = !before || before.held || entries.some((e) => e.kind === "food" && dayOf(e) === day.after && e.food === before.food);
      if (!known) parts.push(el("p", { id: "not-written" }, el("strong", {}, `The amount of ${shortDay(day.after)} is not written down here.`)));
    }
    parts.push(eaten.length
      ? el("p", {}, `Written down at ${eaten.map((e) => e.time.slice(11)).join(", ")}.`)
      : el("p", {}, el("button", { type: "button", class: "main", id: "ate", onclick: (event) => openForm("food", null, event.currentTarget) }, "I ate it")));
    if (DATA.stop) parts.push(el("p", { class: "soft" }, DATA.stop));
  }
  $("plan").replaceChildren(...parts);
  const done = ratingsOn(entries, date);
  const missing = ["morning", "midday", "evening"].filter((part) => !done.some((e) => partOfDay(e.time) === part));
  const yesterday = addDays(date, -1);
  const before = ratingsOn(entries, yesterday).length;
  let text = `Ratings today: ${done.length} of ${wanted(date)}.`;
  if (done.length < wanted(date) && missing.length) text += ` Not yet: ${missing.join(", ")}.`;
  if (planOn(yesterday) && before < wanted(yesterday)) text += ` Yesterday has ${before} of ${wanted(yesterday)}; you can still add one while you remember it.`;
  $("progress").textContent = text;
}
const ratingsOn = (entries, date) => entries.filter((e) => e.kind === "rating" && dayOf(e) === date);

function sentenceOf(entry) {
  if (entry.kind === "rating") return Object.entries(entry.scores).map(([symptom, score]) => `${words(symptom)} ${score}`).join(", ");
  if (entry.kind === "stool") return `Stool, type ${entry.form}`;
  if (entry.kind === "event") return `${labelOf(entry.event)}${entry.end && entry.end !== entry.start ? `, until ${shortDay(entry.end)}` : ""}`;
  const unit = DATA.foods.find((f) => f.food === entry.food)?.unit ?? "g";
  return `${entry.food}${entry.portion_g === null ? "" : `, ${entry.portion_g}\u00a0${unit}`}`;
}

function drawList(entries) {
  const date = $("day").value || diaryDay(wall(new Date()));
  const shown = entries.filter((e) => (e.kind === "event" ? e.start <= date && (e.end || e.start) >= date : dayOf(e) === date));
  $("day-plan").textContent = planSentence(planOn(date));
  $("list").replaceChildren(...(shown.length ? shown.map(lineOf) : [el("li", {}, "Nothing is written down for this day.")]));
}

function lineOf(entry) {
  const when = entry.kind === "event" ? shortDay(entry.start) : entry.time.slice(11);
  const text = sentenceOf(entry);
  const history = entry.history ?? [];
  return el("li", {},
    el("p", {}, el("strong", {}, when), ` ${text}`, entry.note ? el("span", { class: "hint" }, entry.note) : null),
    history.length ? el("details", {}, el("summary", {}, plural(history.length, "correction")), ...history.map((c) => el("p", { class: "soft" }, `${c.at.replace("T", ", ")}: ${words(c.field)} was ${c.before === "" || c.before === null ? "empty" : c.before}`))) : null,
    el("div", { class: "row" },
      el("button", { type: "button", class: "tight", "aria-label": `Correct ${when} ${text}`, onclick: (event) => openForm(entry.kind, entry, event.currentTarget) }, "Correct"),
      el("button", { type: "button", class: "tight", "aria-label": `Remove ${when} ${text}`, onclick: () => removeEntry(entry) }, "Remove")));
}

function drawPicture(entries) {
  const symptom = $("shown-symptom").value || DATA.symptoms[0];
  const last = diaryDay(wall(new Date()));
  const dates = Array.from({ length: 14 }, (_, i) => addDays(last, i - 13));
  const marksOn = dates.map((date) => ratingsOn(entries, date).filter((e) => symptom in e.scores).map((e) => ({ at: e.time.slice(11), score: e.scores[symptom] })));
  const width = Math.max($("drawing").clientWidth, 240), rem = parseFloat(getComputedStyle(document.documentElement).fontSize);
  const left = 1.6 * rem, bottom = 1.8 * rem, height = 11 * rem, top = 0.6 * rem;
  const y = (score) => top + (height - top - bottom) * (1 - score / 10);
  const step = (width - left - 0.5 * rem) / 14;
  const picture = svg("svg", { viewBox: `0 0 ${width} ${height}`, role: "img", "aria-label": `${labelOf(symptom)}, scores of the last 14 days. The table below holds the same numbers.` });
  for (const score of [0, 5, 10]) {
    picture.append(svg("line", { class: "grid", x1: left, x2: width, y1: y(score), y2: y(score) }), svg("text", { x: 0, y: y(score) + 0.28 * rem }, String(score)));
  }
  const every = step * 2 > 3.4 * rem ? 2 : step * 4 > 3.4 * rem ? 4 : 7;
  dates.forEach((date, i) => {
    const x = left + step * (i + 0.5);
    if ((13 - i) % every === 0) picture.append(svg("text", { x, y: height - 0.4 * rem, "text-anchor": i === 13 ? "end" : "middle" }, shortDay(date)));
    marksOn[i].forEach((mark, j) => picture.append(svg("circle", { class: "mark", cx: left + step * (i + (j + 1) / (marksOn[i].length + 1)), cy: y(mark.score), r: Math.min(5, step / 4) })));
  });
  $("drawing").replaceChildren(picture);
  $("drawing-table").replaceChildren(el("table", {},
    el("thead", {}, el("tr", {}, el("th", { scope: "col" }, "Day"), el("th", { scope: "col" }, labelOf(symptom)))),
    el("tbody", {}, ...dates.map((date, i) => el("tr", {}, el("th", { scope: "row" }, shortDay(date)), el("td", {}, marksOn[i].map((m) => `${m.at}: ${m.score}`).join(", ") || "nothing"))))));
}

function draw() {
  const { entries: all, damaged } = readEntries();
  const entries = all.filter((entry) => !entry.removed);
  $("notices").replaceChildren(...notices(entries, damaged));
  const locked = laterSchema();
  for (const id of ["today", "entries", "picture", "export"]) $(id).hidden = locked;
  if (locked) return;
  drawToday(entries);
  drawList(entries);
  drawPicture(entries);
  drawExport(entries);
}
