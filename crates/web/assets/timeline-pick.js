// Picking a stretch on the picture, to be marked: by dragging, or by M at either end of where the arrows read out.

import { colour, ink, line } from "./timeline-brush.js";
import { T, X, book, canvas, pointed, size, view } from "./timeline-scene.js";
import { local } from "./timeline-words.js";

const form = document.querySelector("form.mark");
const button = form?.querySelector("[data-pick]");

// `on`: the next drag picks. `from`: where it began. Both null when nothing is picked.
export const pick = { on: false, from: null, to: null, dragging: false };

const minute = (at, up) => (up ? Math.ceil(at / 60) : Math.floor(at / 60)) * 60;

// First and last instant of what is picked, whole minutes, within the book.
export function picked() {
  if (pick.from === null) return null;
  const to = pick.to ?? pick.from;
  const ends = [Math.min(pick.from, to), Math.max(pick.from, to)];
  return [minute(Math.max(book.from, ends[0]), false), minute(Math.min(book.to, ends[1]), true)];
}

function arm(on) {
  pick.on = on;
  button.setAttribute("aria-pressed", String(on));
  canvas.classList.toggle("picking", on);
}

function fill() {
  const ends = picked();
  if (!ends || ends[0] >= ends[1]) return;
  const instant = (at) => new Date(at * 1000).toISOString().replace(".000Z", "Z");
  for (const [name, at] of [["at", ends[0]], ["until", ends[1]]]) {
    form.elements[name].value = local(at);
    form.elements[`picked_${name}`].value = instant(at);
  }
}

export function begin(x) {
  Object.assign(pick, { from: T(x), to: T(x), dragging: true });
}

export function stretch(x) {
  pick.to = T(x);
  fill();
}

export function end() {
  pick.dragging = false;
  arm(false);
  const ends = picked();
  if (!ends || ends[1] - ends[0] < 60) return drop();
  fill();
  form.closest("details").open = true;
  form.querySelector("[name=why]:checked").focus({ preventScroll: true });
  form.scrollIntoView({ block: "nearest" });
}

export function drop() {
  Object.assign(pick, { from: null, to: null, dragging: false });
  if (form) arm(false);
}

// M: the first sets one end where the arrows read out, the second the other.
export function byKey() {
  if (!form || pointed.at === null) return "Go to a reading with the arrows first, then press M.";
  if (pick.from === null || pick.to !== null) {
    Object.assign(pick, { from: pointed.at, to: null });
    return "One end of the stretch to mark is here. Go to the other with the arrows and press M again; Escape leaves it.";
  }
  pick.to = pointed.at;
  end();
  return null;
}

// The band that is picked, over the readings.
export function band() {
  const ends = picked();
  if (!ends) return;
  const until = pick.to === null && pointed.at !== null ? pointed.at : ends[1];
  const [x0, x1] = [X(Math.min(ends[0], until)), X(Math.max(ends[1], until))];
  ink.save();
  ink.globalAlpha = 0.14;
  ink.fillStyle = colour.ink;
  ink.fillRect(x0, size.plotTop, Math.max(1, x1 - x0), size.plotBottom - size.plotTop);
  ink.restore();
  for (const x of [x0, x1]) line(Math.round(x) + 0.5, size.plotTop, Math.round(x) + 0.5, size.plotBottom, colour.ink);
}

// A mark made or taken away comes back to the stretch that was looked at.
export function keepView() {
  const instant = (at) => new Date(Math.round(at) * 1000).toISOString().replace(".000Z", "Z");
  for (const field of document.querySelectorAll("input[data-view]")) field.value = instant(view[field.dataset.view]);
}

if (form) {
  button.addEventListener("click", () => {
    arm(!pick.on);
    if (pick.on) canvas.scrollIntoView({ block: "nearest" });
  });
  // A time typed by hand is meant as it is typed.
  for (const name of ["at", "until"]) {
    form.elements[name].addEventListener("input", () => { form.elements[`picked_${name}`].value = ""; drop(); });
  }
  document.addEventListener("submit", keepView, true);
}
