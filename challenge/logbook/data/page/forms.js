// The four forms: filled from an entry or from the clock, read back with every mistake told.

let open = null; // { kind, entry, opener, form, touched }

const FILL = {
  rating(form, entry) {
    form.querySelector(".scales").append(...DATA.symptoms.map((symptom) => scale(`score-${symptom}`, labelOf(symptom), entry?.scores[symptom])));
  },
  stool(form, entry) {
    const choice = el("fieldset", {}, el("legend", {}, "Type"), el("div", { class: "scale short" }, ...DATA.stool_forms.map((text, i) => option("form", i + 1, `${i + 1}  ${text}`, entry?.form === i + 1))));
    form.querySelector(".scales").append(choice);
  },
  food(form, entry) {
    const today = planOn(diaryDay(wall(new Date())));
    const list = [...DATA.foods].sort((a, b) => (b.food === today?.food) - (a.food === today?.food));
    const known = form.elements.known;
    known.append(...list.map((f) => el("option", { value: f.food }, f.food === today?.food ? `${f.food} (today)` : f.food)), el("option", { value: "" }, "Something else"));
    const before = [...new Set(live().filter((e) => e.kind === "food" && !list.some((f) => f.food === e.food)).map((e) => e.food))];
    form.querySelector("datalist").append(...before.map((food) => el("option", { value: food })));
    const isKnown = entry ? list.some((f) => f.food === entry.food) : open.opener.id === "ate";
    known.value = entry ? (isKnown ? entry.food : "") : isKnown ? today.food : "";
    form.elements.food.value = entry && !isKnown ? entry.food : "";
    form.elements.portion.value = entry ? entry.portion_g ?? "" : isKnown ? today.portion_g ?? "" : "";
    known.addEventListener("change", () => {
      const dose = today?.food === known.value ? today.portion_g : null;
      form.elements.portion.value = dose ?? "";
      showFood(form);
    });
    showFood(form);
  },
  event(form, entry) {
    form.elements.event.append(...DATA.events.map((name) => el("option", { value: name }, labelOf(name))));
    if (entry && !DATA.events.includes(entry.event)) form.elements.event.append(el("option", { value: entry.event }, entry.event));
    form.elements.event.value = entry?.event ?? DATA.events[0];
    form.elements.start.value = entry?.start ?? diaryDay(wall(new Date()));
    form.elements.end.value = entry?.end && entry.end !== entry.start ? entry.end : "";
  },
};

function showFood(form) {
  const food = DATA.foods.find((f) => f.food === form.elements.known.value);
  form.querySelector("#food-own").hidden = Boolean(food);
  form.querySelector("#food-unit").textContent = food ? food.unit : "g (mL for a drink)";
  form.querySelector("#food-hint").textContent = food?.whole ? "Leave it empty if you took all of it." : food ? "As much as you really ate." : "May be left empty for an ordinary meal.";
}

const option = (name, value, text, checked, label = null) => el("label", {}, el("input", { type: "radio", name, value, checked, "aria-label": label }), el("span", {}, text));
const scale = (name, legend, score) => el("fieldset", {},
  el("legend", {}, legend),
  el("div", { class: "scale" }, ...Array.from({ length: 11 }, (_, i) => option(name, i, String(i), score === i)), option(name, "", "–", score === undefined, "not given")),
  el("div", { class: "ends" }, el("span", {}, "0 none"), el("span", {}, "10 worst")));

const READ = {
  rating(form, wrong) {
    const scores = {};
    for (const symptom of DATA.symptoms) {
      const value = form.elements[`score-${symptom}`].value;
      if (value !== "") scores[symptom] = Number(value);
    }
    if (!Object.keys(scores).length) wrong.push([form.querySelector("input[type=radio]"), "Give at least one score. 0 means that there was nothing to feel."]);
    // symptoms that are no longer asked for are kept as they were
    for (const [symptom, score] of Object.entries(open.entry?.scores ?? {})) if (!DATA.symptoms.includes(symptom)) scores[symptom] = score;
    return { scores };
  },
  stool(form, wrong) {
    const value = form.elements.form.value;
    if (value === "") wrong.push([form.querySelector("input[type=radio]"), "Choose a type from 1 to 7."]);
    return { form: Number(value) };
  },
  food(form, wrong) {
    const known = DATA.foods.find((f) => f.food === form.elements.known.value);
    const food = known ? known.food : form.elements.food.value.trim();
    if (food === "") wrong.push([form.elements.food, "Write what you ate or drank."]);
    const typed = form.elements.portion.value.trim().replace(",", ".");
    const portion = typed === "" ? null : Number(typed);
    if (portion !== null && !(portion > 0 && portion <= 5000)) wrong.push([form.elements.portion, "The amount is a number above 0 and up to 5000, such as 150."]);
    if (known && !known.whole && portion === null) wrong.push([form.elements.portion, `How much did you eat, in ${known.unit}?`]);
    return { food, portion_g: portion, ...gramsOf(food, portion, form.elements.time.value || wall(new Date())) };
  },
  event(form, wrong) {
    const start = form.elements.start.value, end = form.elements.end.value;
    if (!start) wrong.push([form.elements.start, "Which day was it?"]);
    if (end && end < start) wrong.push([form.elements.end, "The last day lies before the first."]);
    return { event: form.elements.event.value, start, end: end || start };
  },
};

// Group and grams of a portion. A food that is only corrected keeps its group, also when the plan has
// changed since, and its grams go with its amount. Portions are rounded step by step, so the day's own
// step tells the grams better than the food's first one.
function gramsOf(food, portion, time) {
  const known = DATA.foods.find((f) => f.food === food), before = open.entry?.food === food ? open.entry : null;
  const day = planOn(diaryDay(time));
  const ratio = (grams, amount) => (grams > 0 && amount > 0 ? grams / amount : null);
  const perUnit = ratio(before?.fodmap_g, before?.portion_g) ?? (day?.food === food ? ratio(day.fodmap_g, day.portion_g) : null) ?? known?.per_unit ?? null;
  const grams = before && portion === before.portion_g ? before.fodmap_g : perUnit !== null && portion > 0 ? Math.round(portion * perUnit * 1000) / 1000 : null;
  return { fodmap_group: (before ?? known)?.fodmap_group ?? "", fodmap_g: grams };
}

function readTime(form, wrong) {
  const field = form.elements.time;
  const time = open.touched ? field.value.slice(0, 16) : open.entry?.time ?? wall(new Date());
  if (fromWall(time) === null) wrong.push([field, "Give the day and the time."]);
  else if (isMissing(time)) wrong.push([field, "This time did not exist: the clocks went forward that night. Choose the time after the change."]);
  else if (time > wall(new Date(Date.now() + 5 * 60000)) && !isDouble(time)) wrong.push([field, "This time is still to come. Check the day and the time."]);
  return time;
}

function openForm(kind, entry, opener) {
  closeForm();
  const form = $(`form-${kind}`).content.firstElementChild.cloneNode(true);
  open = { kind, entry, opener, form, touched: false };
  opener.setAttribute("aria-expanded", "true");
  $("form-place").append(form);
  FILL[kind](form, entry);
  form.elements.note.value = entry?.note ?? "";
  if (form.elements.time) {
    form.elements.time.value = entry?.time ?? wall(new Date());
    form.elements.time.addEventListener("input", () => { open.touched = true; });
  }
  if (entry) form.querySelector("h2").textContent = `Correct: ${entry.kind === "event" ? shortDay(entry.start) : `${shortDay(entry.time.slice(0, 10))}, ${entry.time.slice(11)}`}`;
  form.addEventListener("submit", (event) => { event.preventDefault(); submit(); });
  form.querySelector(".cancel").addEventListener("click", () => { closeForm(); say("Nothing was changed."); });
  say("");
  const title = form.querySelector("h2");
  title.tabIndex = -1;
  title.focus();
  form.scrollIntoView({ block: "start" });
}

function closeForm() {
  if (!open) return;
  const { opener, form } = open;
  open = null;
  form.remove();
  if (opener.hasAttribute("aria-controls")) opener.setAttribute("aria-expanded", "false"); else opener.removeAttribute("aria-expanded");
  (opener.isConnected ? opener : $("open-rating")).focus();
}

function showWrong(form, wrong) {
  for (const field of form.querySelectorAll("[aria-invalid]")) { field.removeAttribute("aria-invalid"); field.removeAttribute("aria-describedby"); }
  const place = form.querySelector(".wrong");
  place.textContent = wrong.map(([, text]) => text).join(" ");
  for (const [field] of wrong) if (field) { field.setAttribute("aria-invalid", "true"); field.setAttribute("aria-describedby", place.id); }
  if (wrong.length) { say(place.textContent); wrong[0][0]?.focus(); }
}

const FIELDS = { rating: [], stool: ["time", "form"], food: ["time", "food", "portion_g", "fodmap_group", "fodmap_g"], event: ["start", "end", "event"] };
// What a correction changed, oldest first, behind what earlier corrections changed.
function changesOf(before, after, at) {
  const found = [];
  const compare = (field, was, is) => { if ((was ?? "") !== (is ?? "")) found.push({ at, field, before: was ?? "" }); };
  for (const field of FIELDS[after.kind]) compare(field === "form" ? "stool_form" : field, before[field], after[field]);
  if (after.kind === "rating") {
    compare("time", before.time, after.time);
    for (const symptom of new Set([...Object.keys(before.scores), ...Object.keys(after.scores)])) compare(symptom, before.scores[symptom], after.scores[symptom]);
  }
  compare("note", before.note, after.note);
  return [...(before.history ?? []), ...found];
}

function submit() {
  const { kind, entry, form } = open;
  const wrong = [];
  const values = READ[kind](form, wrong);
  if (kind !== "event") values.time = readTime(form, wrong);
  const draft = { ...(entry ?? {}), kind, ...values, note: form.elements.note.value.trim() };
  let moved = "";
  const clash = (candidate) => live().some((other) => other.id !== entry?.id && sameEntry(other, candidate));
  if (!wrong.length && clash(draft)) {
    if (kind === "event" || entry || open.touched) wrong.push([form.elements.time ?? form.elements.start, "There is already such an entry at this time. Correct that one, or choose another minute."]);
    else {
      // the same minute twice: a second rating at once, or the hour that a clock change repeats
      const was = draft.time.slice(11);
      for (let i = 1; i < 60 && clash(draft); i += 1) draft.time = wall(new Date(fromWall(values.time).instant.getTime() + i * 60000));
      moved = ` There was already one at ${was}, so this one is kept as ${draft.time.slice(11)}.`;
    }
  }
  showWrong(form, wrong);
  if (wrong.length) return;
  const now = wall(new Date());
  draft.id = entry?.id ?? newId();
  draft.entered_at = entry?.entered_at ?? now;
  draft.history = entry ? changesOf(entry, draft, now) : [];
  if (!keep(draft, entry?.changes ?? 0, form)) return;
  const told = entry && wasExported(entry) && (draft.time !== entry.time || draft.start !== entry.start) ? " It was in an earlier export: tell your dietitian that its time has changed." : "";
  const doubled = kind !== "event" && isDouble(draft.time) ? " The clocks went back that night, so this time occurred twice." : "";
  closeForm();
  draw();
  say(`Saved: ${sentenceOf(draft)}.${moved}${doubled}${told}`);
  if (window.isSecureContext) navigator.storage?.persist?.().catch(() => {});
}

const wasExported = (entry) => entry.at <= recall("exported", 0);

// Writes an entry and says what hinders it; what was typed stays in the form.
function keep(entry, seen, form) {
  try {
    writeEntry(entry, seen);
    return true;
  } catch (error) {
    let text;
    if (error instanceof Changed) text = "Not saved: this entry was changed in another window. Nothing was overwritten. Close this form and open the entry again.";
    else if (error instanceof Refused) text = error.message === "full" ? "Not saved: the storage of this browser is full. Your earlier entries are all here. Leave this form open, export, free some space, then save again." : "Not saved: this browser refused to keep the entry. Leave this form open and write the entry on paper.";
    else throw error;
    if (form) form.querySelector(".wrong").textContent = text;
    draw();
    say(text);
    return false;
  }
}

async function removeEntry(entry) {
  const told = wasExported(entry) ? " It was in an earlier export: tell your dietitian that it should be taken out there too." : "";
  if (!(await ask("Remove this entry?", `${sentenceOf(entry)}.${told}`, "Remove"))) return;
  if (keep({ ...entry, removed: wall(new Date()) }, entry.changes, null)) { draw(); say(`Removed.${told}`); $("day").focus(); }
}

function ask(title, text, yes) {
  $("ask-title").textContent = title;
  $("ask-text").textContent = text;
  $("ask-yes").textContent = yes;
  const box = $("ask");
  box.returnValue = "";
  box.showModal();
  return new Promise((resolve) => {
    $("ask-no").onclick = () => box.close("no");
    $("ask-yes").onclick = () => box.close("yes");
    // told a moment after closing: by then the box may be open again with the next question
    box.onclose = () => { if (!box.open) resolve(box.returnValue === "yes"); };
  });
}
