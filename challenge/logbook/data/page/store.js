// Where entries are kept: one key of localStorage for each entry, so that two tabs that write at
// the same time touch different keys and neither can lose what the other wrote.

const SCHEMA = DATA.schema;
const HOME = `challenge/${DATA.client}/`;
const ENTRIES = `${HOME}${SCHEMA}/entry/`;

class Refused extends Error {}
class Changed extends Error {}

function storageState(storage) {
  const key = `${HOME}probe`;
  try {
    const text = String(Math.random());
    storage.setItem(key, text);
    const kept = storage.getItem(key) === text;
    storage.removeItem(key);
    return kept ? "kept" : "forbidden";
  } catch (error) {
    // full is not forbidden: what is there can still be read, exported and wiped
    try { return isFull(error) && storage.length > 0 ? "full" : "forbidden"; } catch { return "forbidden"; }
  }
}
const isFull = (error) => error instanceof DOMException && (error.name === "QuotaExceededError" || error.name === "NS_ERROR_DOM_QUOTA_REACHED" || error.code === 22);

const memory = new Map();
const inMemory = {
  getItem: (key) => memory.get(key) ?? null,
  setItem: (key, value) => void memory.set(key, value),
  removeItem: (key) => void memory.delete(key),
  key: (i) => [...memory.keys()][i] ?? null,
  get length() { return memory.size; },
};

// Chromium drops, without an error, the storage of a document that asks for it before the browser's
// own process has taken note of that document: it reads as empty, and what is written is gone with
// the page (DOMStorageContextWrapper::IsRequestValid in content/browser/dom_storage). A lock is
// granted by that process over the document's own channel, so its answer means that the document
// is known there. Shared: no other window can make this one wait. A browser that refuses locks, or
// has none, is given a moment instead.
const browserKnowsThisPage = () => {
  const moment = () => new Promise((resolve) => { setTimeout(resolve, 1000); });
  return navigator.locks ? navigator.locks.request(`${HOME}opening`, { mode: "shared" }, () => {}).catch(moment) : moment();
};

const main = document.querySelector("main");
main.setAttribute("aria-busy", "true");
await browserKnowsThisPage();

let storage;
let state;
try { storage = window.localStorage; state = storage ? storageState(storage) : "forbidden"; } catch { state = "forbidden"; }
if (state === "forbidden") storage = inMemory;

const keysUnder = (prefix) => {
  const keys = [];
  for (let i = 0; i < storage.length; i += 1) {
    const key = storage.key(i);
    if (key !== null && key.startsWith(prefix)) keys.push(key);
  }
  return keys;
};

function readEntry(id) {
  const text = storage.getItem(ENTRIES + id);
  return text === null ? null : JSON.parse(text);
}

// All entries, those taken back included, and how many could not be read (they are left alone).
function readEntries() {
  const entries = [];
  let damaged = 0;
  for (const key of keysUnder(ENTRIES)) {
    try {
      const entry = JSON.parse(storage.getItem(key));
      if (entry && entry.id && entry.kind) entries.push(entry); else damaged += 1;
    } catch { damaged += 1; }
  }
  const when = (e) => e.time ?? e.start;
  entries.sort((a, b) => when(a).localeCompare(when(b)) || a.at - b.at || a.id.localeCompare(b.id));
  return { entries, damaged };
}

const newId = () => Array.from(crypto.getRandomValues(new Uint8Array(9)), (b) => b.toString(16).padStart(2, "0")).join("");

function put(key, text) {
  try {
    storage.setItem(key, text);
  } catch (error) {
    if (isFull(error)) state = "full";
    throw new Refused(isFull(error) ? "full" : "forbidden");
  }
  if (storage.getItem(key) !== text) throw new Refused("forbidden");
}

// Writes an entry if it is still as the writer saw it (`seen` is its number of changes, 0 for new).
function writeEntry(entry, seen) {
  const now = readEntry(entry.id);
  if ((now ? now.changes : 0) !== seen) throw new Changed();
  // `at` orders all writing; it only grows, whatever is done to the clock
  const at = Math.max(Date.now(), recall("latest", 0) + 1);
  put(ENTRIES + entry.id, JSON.stringify({ ...entry, at, changes: seen + 1 }));
  remember("latest", at);
  remember("clock", Date.now());
}

const recall = (name, otherwise) => {
  try { return JSON.parse(storage.getItem(HOME + name)) ?? otherwise; } catch { return otherwise; }
};
// Small facts beside the entries; the diary does not depend on them, so a refusal is no error.
const remember = (name, value) => { try { storage.setItem(HOME + name, JSON.stringify(value)); } catch { /* see above */ } };

function wipe() {
  for (const key of keysUnder(HOME)) storage.removeItem(key);
}

// Entries of a later page are written in a form that this page does not know.
const laterSchema = () => keysUnder(HOME).some((key) => Number(/^(\d+)\/entry\//.exec(key.slice(HOME.length))?.[1]) > SCHEMA);
