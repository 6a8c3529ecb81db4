// CSV as the files of the diary hold it: UTF-8 with a mark so that spreadsheets see it, CRLF.

const FOOD_COLUMNS = ["time", "food", "portion_g", "fodmap_group", "fodmap_g", "note", "entered_at"];
const SYMPTOM_COLUMNS = ["time", "symptom", "score", "note", "entered_at"];
const EVENT_COLUMNS = ["start", "end", "event", "note"];
const TEXT_COLUMNS = new Set(["food", "symptom", "event", "note"]);

// A spreadsheet would run text that begins like a formula; an apostrophe before it makes it text.
const guard = (text) => (/^\s*'*[=+\-@\t\r]/.test(text) ? `'${text}` : text);
const unguard = (text) => (/^'\s*'*[=+\-@\t\r]/.test(text) ? text.slice(1) : text);

function toCsv(columns, rows) {
  const cell = (value, column) => {
    let text = value === null || value === undefined ? "" : String(value);
    if (TEXT_COLUMNS.has(column)) text = guard(text);
    return /[",\r\n]/.test(text) || text !== text.trim() ? `"${text.replaceAll('"', '""')}"` : text;
  };
  const lines = rows.map((row) => columns.map((column) => cell(row[column], column)).join(","));
  return `\ufeff${[columns.join(","), ...lines].join("\r\n")}\r\n`;
}

// Rows as objects by column name. Throws a plain sentence where the text is no such table.
function fromCsv(text) {
  const table = [];
  let row = [], cell = "", quoted = false, wasQuoted = false;
  const source = text.replace(/^\ufeff/, "");
  const endCell = () => { row.push(cell); cell = ""; wasQuoted = false; };
  const endRow = () => { endCell(); if (row.some((c) => c !== "")) table.push(row); row = []; };
  for (let i = 0; i < source.length; i += 1) {
    const c = source[i];
    if (quoted) {
      if (c !== '"') cell += c;
      else if (source[i + 1] === '"') { cell += '"'; i += 1; } else quoted = false;
    } else if (c === '"' && cell === "" && !wasQuoted) { quoted = true; wasQuoted = true; }
    else if (c === ",") endCell();
    else if (c === "\n") endRow();
    else if (c === "\r") { if (source[i + 1] === "\n") i += 1; endRow(); }
    else cell += c;
  }
  if (quoted) throw new Error("a quotation mark is not closed, so the file is cut short or damaged");
  if (cell !== "" || row.length) endRow();
  if (!table.length) throw new Error("it is empty");
  const columns = table[0].map((name) => name.trim());
  return table.slice(1).map((cells, i) => {
    if (cells.length !== columns.length) throw new Error(`line ${i + 2} has ${cells.length} cells, the first line has ${columns.length}`);
    return Object.fromEntries(columns.map((name, j) => [name, TEXT_COLUMNS.has(name) ? unguard(cells[j]) : cells[j].trim()]));
  });
}
