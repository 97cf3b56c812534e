// Beside every table: a button that copies it and one that saves it as CSV. The page is whole without them.
"use strict";

// Words and the marks of numbers come with the page, in its language; between braces stands what is filled in.
const told = JSON.parse(document.currentScript.dataset.words);
const say = (name, what) => told[name].replace(/\{\w+\}/, () => what);
const thousands = told.thousands.replace(/\s/, " ");
const mark = (text) => text.replace(".", "\\.");
const FIGURE = `[+−-]?(?:\\d{1,3}(?:${mark(thousands)}\\d{3})+|\\d+)(?:${mark(told.decimal)}\\d+)?`;
const UNITS = new RegExp(`^(${FIGURE})\\s?(mg/dL|mmol/L|%|h|hours?|min|minutes?|days?|g|units?|horas?|minutos?|días?|unidad(?:es)?)$`);
const NUMBER = new RegExp(`^${FIGURE}$`);

const words = (cell) => cell.textContent.replace(/[\s\u00a0\u202f]+/g, " ").trim();
const plain = (number) => number.replaceAll(thousands, "").replace(told.decimal, ".").replace("−", "-").replace("+", "");
const one = (unit) => unit.replace(/^(hour|minute|day|unit|hora|minuto|día)$/, "$1s").replace(/^unidad$/, "unidades");

// Rows of cells as a program reads them: a unit that every figure of a column carries stands in the column's name.
function rowsOf(table) {
  const all = [...table.rows].map((row) => [...row.cells].flatMap((cell) => {
    const text = cell.dataset.csv ?? words(cell);
    return [text, ...Array(cell.colSpan - 1).fill("")];
  }));
  const wide = Math.max(...all.map((row) => row.length));
  const named = table.tHead ? all[0] : [told.name, told.value];
  const heads = Array.from({ length: wide }, (_, i) => named[i] || say("column", i + 1));
  const rows = (table.tHead ? all.slice(1) : all).map((row) => heads.map((_, i) => row[i] ?? ""));
  const units = table.tHead ? [...table.tHead.rows[0].cells].map((cell) => cell.dataset.unit) : [];
  for (let i = 0; i < wide; i++) {
    const cells = rows.map((row) => row[i]).filter((text) => text !== "" && text !== "–");
    const shared = cells.map((text) => UNITS.exec(text)?.[2]).map((unit) => unit && one(unit));
    const unit = cells.length > 0 && shared[0] && shared.every((each) => each === shared[0]) ? shared[0] : "";
    for (const row of rows) {
      const figure = unit ? UNITS.exec(row[i])?.[1] : NUMBER.test(row[i]) ? row[i] : undefined;
      if (figure !== undefined) row[i] = plain(figure);
    }
    const said = unit || units[i];
    if (said && !heads[i].includes(said)) heads[i] += ` (${said})`;
  }
  return [heads, ...rows];
}

// A spreadsheet must not take a text for a formula.
const guarded = (text) => (/^[=@+]|^-(?![\d.])/.test(text) ? `'${text}` : text);
const quoted = (text) => (/[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text);
const csv = (table) => rowsOf(table).map((row) => row.map((text) => quoted(guarded(text))).join(",")).join("\r\n") + "\r\n";
const tabbed = (table) => rowsOf(table).map((row) => row.map(guarded).join("\t")).join("\n") + "\n";

// A page that is not on this machine itself has no clipboard of the newer kind.
async function copy(text) {
  if (navigator.clipboard) return navigator.clipboard.writeText(text);
  const area = document.createElement("textarea");
  area.value = text;
  document.body.append(area);
  area.select();
  const done = document.execCommand("copy");
  area.remove();
  if (!done) throw new Error("not copied");
}

function titleOf(table) {
  const within = table.closest("section");
  const heading = within?.querySelector("h2, h3") ?? document.querySelector("main h1");
  const text = table.caption ?? table.closest("details")?.querySelector("summary") ?? heading;
  return text ? words(text) : told.table;
}

function nameOf(table) {
  const slug = (text) => text.toLowerCase().normalize("NFKD").replace(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "").slice(0, 40);
  const section = table.closest("section")?.querySelector("h2, h3");
  const parts = [document.title.split(" · ")[0], section ? words(section) : "", table.id];
  return ["interstice", ...parts.map(slug).filter(Boolean)].join("-") + ".csv";
}

function save(table) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([csv(table)], { type: "text/csv" }));
  link.download = nameOf(table);
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 1000);
}

function button(text, act) {
  const made = document.createElement("button");
  made.type = "button";
  made.textContent = text;
  made.addEventListener("click", act);
  return made;
}

function offer(table) {
  const box = table.parentElement.matches(".scroll, .sheet-scroll") ? table.parentElement : table;
  let tools = box.nextElementSibling;
  if (!tools?.matches("p.tools")) {
    tools = document.createElement("p");
    tools.className = "tools";
    box.after(tools);
  }
  const said = document.createElement("span");
  said.setAttribute("role", "status");
  const copies = button(told.copy, async () => {
    try {
      await copy(tabbed(table));
      said.textContent = told.copied;
    } catch {
      said.textContent = told.uncopied;
    }
    setTimeout(() => { said.textContent = ""; }, 4000);
  });
  copies.setAttribute("aria-label", say("copyWhich", titleOf(table)));
  const mine = [copies];
  if (!tools.querySelector("a[href*='.csv']")) {
    const saves = button(told.save, () => save(table));
    saves.setAttribute("aria-label", say("saveWhich", titleOf(table)));
    mine.push(saves);
  }
  tools.prepend(...mine);
  tools.append(said);
  if (box !== table) reachable(box, table);
}

// What scrolls sideways can be scrolled by keys, and has a name; what does not scroll is no stop on the way.
function reachable(box, table) {
  const look = () => {
    if (box.scrollWidth > box.clientWidth) {
      box.tabIndex = 0;
      box.setAttribute("role", "group");
      box.setAttribute("aria-label", say("wide", titleOf(table)));
      return;
    }
    // A browser makes a stop of what overflows by less than a pixel, too.
    box.tabIndex = -1;
    for (const name of ["role", "aria-label"]) box.removeAttribute(name);
  };
  new ResizeObserver(look).observe(box);
  look();
}

function look() {
  for (const table of document.querySelectorAll("main table:not([data-offered])")) {
    table.dataset.offered = "";
    offer(table);
  }
}

look();
new MutationObserver(look).observe(document.querySelector("main"), { childList: true, subtree: true });
globalThis.interstice = Object.assign(globalThis.interstice || {}, { csv });
