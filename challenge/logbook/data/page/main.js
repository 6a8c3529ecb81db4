// Export, import, wiping, and the start of the page.

function filesOf(entries) {
  const today = wallDate(new Date());
  const name = (kind) => `${DATA.client}-${kind}-${today}.csv`;
  const files = [
    [name("symptoms"), toCsv(SYMPTOM_COLUMNS, symptomRows(entries)), "scores"],
    [name("foods"), toCsv(FOOD_COLUMNS, foodRows(entries)), "foods"],
  ];
  const events = eventRows(entries);
  if (events.length) files.push([name("events"), toCsv(EVENT_COLUMNS, events), "unusual days"]);
  return files.map(([file, text, label]) => ({ file, label, blob: new Blob([text], { type: "text/csv;charset=utf-8" }) }));
}

let taken = { latest: null, files: new Set() };
function drawExport(entries) {
  const waiting = unexported(entries).length;
  const last = recall("exported_on", 0);
  $("export-state").textContent = !entries.length ? "There is nothing to export yet."
    : `${plural(entries.length, "entry", "entries")}; ${waiting ? `${waiting} not yet exported` : "all exported"}.${last ? ` Last export: ${spoken(wallDate(new Date(last)), undefined)}.` : ""} Every export holds the whole diary.`;
  const offered = entries.length ? filesOf(entries) : [];
  const buttons = offered.map(({ file, label }) => el("a", { class: "button", download: file, href: "#export", "data-file": label,
    onclick: (event) => download(event.currentTarget, label, offered.length) }, `Save file of ${label}`));
  const shareable = offered.map(({ file, blob }) => new File([blob], file, { type: "text/csv" }));
  if (offered.length && navigator.canShare?.({ files: shareable })) buttons.unshift(el("button", { type: "button", class: "main", id: "share", onclick: () => share(shareable) }, "Share the files"));
  $("downloads").replaceChildren(...buttons);
}

// The link stays in the document and its content outlives the click: some phones read it late.
function download(link, label, offered) {
  const latest = recall("latest", 0);
  const fresh = filesOf(live()).find((file) => file.label === label);
  const url = URL.createObjectURL(fresh.blob);
  link.href = url;
  link.download = fresh.file;
  setTimeout(() => URL.revokeObjectURL(url), 120000);
  if (taken.latest !== latest) taken = { latest, files: new Set() };
  taken.files.add(label);
  const left = offered - taken.files.size;
  say(left > 0 ? `Saved to your downloads: ${fresh.file}. ${plural(left, "file")} still to save.` : `Saved to your downloads: ${fresh.file}. The export is complete.`);
  if (left <= 0) exported(latest, link);
}

function exported(latest) {
  remember("exported", latest);
  remember("exported_on", Date.now());
  // not at once: replacing the link now would cut the download short
  setTimeout(draw, 1000);
}

async function share(files) {
  const latest = recall("latest", 0);
  try {
    await navigator.share({ files, title: `Diary ${DATA.client}` });
    exported(latest);
    say("Handed over to the app you chose.");
  } catch (error) {
    say(error.name === "AbortError" ? "Not shared." : "Sharing did not work here. Save the files instead.");
  }
}

async function importFiles(files) {
  const told = [];
  for (const file of files) {
    let rows;
    try { rows = fromCsv(await file.text()); } catch (error) { told.push(`${file.name}: not read, ${error.message}.`); continue; }
    if (rows.length && !["symptom", "food", "event"].some((column) => column in rows[0])) { told.push(`${file.name}: not read, its first line is not that of a diary file.`); continue; }
    const { entries, wrong } = entriesFrom(rows);
    const found = mergeIn(entries);
    told.push(`${file.name}: ${found.added} new, ${found.same} already here${found.removed ? `, ${found.removed} removed here before and left out` : ""}${found.differ.length ? `, ${found.differ.length} different from what is here (kept as here: ${found.differ.join("; ")})` : ""}.${found.refused ? ` Stopped: ${found.refused} not stored, the browser refused.` : ""}${wrong.length ? ` Not read: ${wrong.join("; ")}.` : ""}`);
  }
  draw();
  $("imported").replaceChildren(...told.map((text) => el("p", {}, text)));
}

function mergeIn(entries) {
  const result = { added: 0, same: 0, differ: [], refused: 0, removed: 0 };
  for (const entry of entries) {
    const all = readEntries().entries.filter((other) => sameEntry(other, entry) || wasOnce(other, entry));
    const present = all.find((other) => !other.removed);
    if (!present && all.length) result.removed += 1;
    else if (present) {
      if (valuesOf(present) === valuesOf(entry)) result.same += 1;
      else result.differ.push(`${(entry.time ?? entry.start).replace("T", ", ")} ${sentenceOf(entry)}`);
    } else if (result.refused || !keep({ ...entry, id: newId() }, 0, null)) result.refused += 1;
    else result.added += 1;
  }
  return result;
}

async function wipeAll() {
  const entries = live();
  const waiting = unexported(entries).length;
  const text = `${plural(entries.length, "entry", "entries")} will be deleted from this browser and cannot be brought back from here. ${waiting ? `${waiting} of them were never exported.` : "All of them were exported."}`;
  if (!(await ask("Wipe this diary?", text, "Wipe it"))) return say("Nothing was wiped.");
  closeForm();
  wipe();
  state = storage === inMemory ? "forbidden" : storageState(storage);
  draw();
  say("The diary was wiped from this device.");
}

for (const kind of ["rating", "food", "stool", "event"]) {
  const button = $(`open-${kind}`);
  button.addEventListener("click", () => (open?.opener === button ? closeForm() : openForm(kind, null, button)));
}
$("shown-symptom").append(...DATA.symptoms.map((symptom) => el("option", { value: symptom }, labelOf(symptom))));
$("shown-symptom").addEventListener("change", () => drawPicture(live()));
$("day").value = diaryDay(wall(new Date()));
$("day").addEventListener("change", () => drawList(live()));
$("import").addEventListener("change", (event) => importFiles([...event.target.files]));
$("wipe").addEventListener("click", wipeAll);

// another tab wrote: draw what is true now; an open form keeps what was typed
window.addEventListener("storage", (event) => { if (event.key === null || event.key.startsWith(HOME)) draw(); });
window.addEventListener("resize", () => { if (!laterSchema()) drawPicture(live()); });
document.addEventListener("visibilitychange", () => { if (document.visibilityState === "visible") draw(); });
window.addEventListener("beforeunload", (event) => { if (open || (state === "forbidden" && unexported(live()).length)) event.preventDefault(); });

draw();
if (recall("made", "") < DATA.made && !laterSchema()) remember("made", DATA.made);
if (DATA.hosted && "serviceWorker" in navigator) navigator.serviceWorker.register("service-worker.js").catch(() => {});
main.removeAttribute("aria-busy");
