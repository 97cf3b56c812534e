// The Days page: draws what the server hands over, and moves about in it. No date is computed here: ticks, days, nights
// and offsets of the lived wall clock all come with the data, and the browser's own zone is never asked.

import { artefacts, checks, lanes, swingAt, swingOf } from "./timeline-marks.js";
import { axis, grid, nights, scale, strip } from "./timeline-axes.js";
import { colour, crisp, ink, line, readColours } from "./timeline-brush.js";
import {
  AXIS, LANE, SHORTEST, STRIP, T, TOP, X, Y, book, canvas, isFar, lower, plotWidth, pointed, primary, root,
  secondsAPixel, size, span, stripT, view,
} from "./timeline-scene.js";
import { listen } from "./listen.js";
import { band, begin, byKey, drop, end, pick, stretch } from "./timeline-pick.js";
import { aside, spreads, trace } from "./timeline-series.js";
import { best, counters, fetchTile, store, suits, want } from "./timeline-tiles.js";
import { found, sentence } from "./timeline-words.js";

const words = root.querySelector("[data-readout]");
const account = document.getElementById("timeline-account");

// ---- drawing -------------------------------------------------------------------------------------------------------

let due = false;
function redraw() {
  if (due) return;
  due = true;
  requestAnimationFrame(() => {
    due = false;
    const started = performance.now();
    draw();
    counters.lastDrawMs = performance.now() - started;
    counters.drawMs.push(counters.lastDrawMs);
    if (counters.drawMs.length > 500) counters.drawMs.shift();
    counters.draws += 1;
  });
}

function draw() {
  const { w, h, dpr } = size;
  if (w === 0) return;
  ink.setTransform(dpr, 0, 0, dpr, 0, 0);
  ink.clearRect(0, 0, w, h);
  const tile = best();
  if (!tile) return;
  root.classList.add("drawn");
  ink.save();
  ink.beginPath();
  ink.rect(size.left, 0, plotWidth(), size.stripTop);
  ink.clip();
  nights(tile);
  grid(tile);
  artefacts(tile);
  const hours = secondsAPixel() / 3600;
  // Where a pixel holds many hours the extremes turn pale and the days' spread stands before them.
  const far = tile.spread ? Math.max(0, Math.min(1, (hours - 0.7) / 1.6)) : 0;
  for (const series of tile.series) {
    if (series.role === "primary") trace(tile, series, 1 - 0.76 * far);
    else if (far < 1) aside(series, 1 - far);
  }
  if (far > 0) spreads(tile, far);
  lanes(tile);
  checks(tile);
  band();
  ink.restore();
  scale();
  axis(tile);
  strip();
  point(tile);
}

function point(tile) {
  if (pointed.at === null) return;
  const it = found(tile, pointed.at), at = it ? it.at : pointed.at, x = crisp(X(at));
  if (x < size.left || x > size.w) return;
  line(x, 0, x, size.axisTop, colour.ink);
  if (!it || it.kind === "stretch") return;
  const { series, i } = it;
  for (const v of it.kind === "reading" ? [series.last[i]] : [series.low[i], series.high[i]]) {
    ink.beginPath();
    ink.arc(x, Y(v), 4, 0, 7);
    ink.fillStyle = colour.ink;
    ink.fill();
    ink.strokeStyle = colour.paper;
    ink.lineWidth = 1.5;
    ink.stroke();
  }
}

// The line above the chart is for everyone; only what the keyboard asks for is announced.
function read(announce) {
  const tile = best();
  words.setAttribute("aria-live", announce ? "polite" : "off");
  if (pointed.at === null || !tile) words.textContent = words.dataset.idle;
  else words.textContent = sentence(tile, pointed.at);
  redraw();
}

// What was logged around the low or high at an instant, where the page lists it.
function toEpisode(at) {
  const tile = best(), it = tile && !isFar(tile) ? found(tile, at) : null;
  if (!it || it.kind === "stretch" || it.series.flag[it.i] >> 4 === 2) return false;
  const line = [...account.querySelectorAll("[data-episode]")]
    .find(({ dataset }) => Number(dataset.episode) <= it.at && it.at <= Number(dataset.until));
  if (!line) return false;
  for (const other of account.querySelectorAll(".episode.shown")) other.classList.remove("shown");
  line.classList.add("shown");
  line.focus({ preventScroll: true });
  line.scrollIntoView({ block: "nearest", behavior: "smooth" });
  return true;
}

// ---- moving about ----------------------------------------------------------------------------------------------

// Puts the view where asked, within the book and a little beyond, never shorter than ten minutes.
function show(from, to, { settle = true, push = false } = {}) {
  const most = (book.to - book.from) * 1.04, middle = (from + to) / 2;
  let length = Math.max(SHORTEST, Math.min(to - from, Math.max(most, SHORTEST)));
  from = middle - length / 2;
  const slack = length >= book.to - book.from ? (length - (book.to - book.from)) / 2 : length / 2;
  from = Math.max(book.from - slack, Math.min(from, book.to + slack - length));
  view.from = from;
  view.to = from + length;
  redraw();
  want(redraw);
  if (pointed.at !== null) read(false);
  if (settle) settled(push);
}

function zoom(factor, about) {
  const from = about - (about - view.from) * factor;
  show(from, from + span() * factor);
}

const pan = (seconds) => show(view.from + seconds, view.to + seconds);

let settling = 0;
function settled(push) {
  named();
  clearTimeout(settling);
  settling = setTimeout(() => {
    const address = new URL(location.href);
    const instant = (t) => new Date(Math.round(t) * 1000).toISOString().replace(".000Z", "Z");
    address.searchParams.set("from", instant(view.from));
    address.searchParams.set("to", instant(view.to));
    // A colon may stand in a query, and the address is read by people.
    const plain = address.toString().replaceAll("%3A", ":");
    if (plain !== location.href) history[push ? "pushState" : "replaceState"](null, "", plain);
    tell();
  }, push ? 0 : 250);
}

// Marks the scale that is shown.
function named() {
  for (const link of document.querySelectorAll("a[data-span]")) {
    const near = Math.abs(Math.log(Number(link.dataset.span) / span())) < 0.05;
    if (near) link.setAttribute("aria-current", "true"); else link.removeAttribute("aria-current");
  }
}

let telling = null;
async function tell() {
  if (telling) telling.abort();
  telling = new AbortController();
  try {
    const answer = await fetch(
      `${book.account}?${book.ask}&from=${Math.round(view.from)}&to=${Math.round(view.to)}`, { signal: telling.signal });
    if (!answer.ok) return;
    const open = account.querySelector("details")?.open;
    const parts = document.createElement("template");
    parts.innerHTML = await answer.text();
    for (const name of ["answer", "account"]) {
      const part = parts.content.querySelector(`[data-part="${name}"]`);
      document.getElementById(`timeline-${name}`).replaceChildren(...part.childNodes);
    }
    const details = account.querySelector("details");
    if (details && open) details.open = true;
  } catch { /* a newer view is being told, or the server is away: the old words stand with their own dates */ }
}

window.addEventListener("popstate", () => {
  const asked = new URL(location.href).searchParams;
  const [from, to] = ["from", "to"].map((key) => Date.parse(asked.get(key) ?? "") / 1000);
  if (from < to) { show(from, to, { settle: false }); tell(); }
  else show(book.view.from, book.view.to, { settle: false });
});

const place = (event) => {
  const box = canvas.getBoundingClientRect();
  return { x: event.clientX - box.left, y: event.clientY - box.top };
};

// One finger or the mouse moves, two fingers stretch; a touch that does not move reads out.
const fingers = new Map();
let held = null;

function grip() {
  const [a, b] = [...fingers.values()];
  held = { from: view.from, to: view.to, a: { ...a }, b: b && { ...b }, moved: held ? held.moved : false };
}

canvas.addEventListener("pointerdown", (event) => {
  if (event.button > 0) return;
  canvas.setPointerCapture(event.pointerId);
  const at = place(event);
  if (pick.on && fingers.size === 0 && at.y < size.stripTop) {
    begin(at.x);
    return redraw();
  }
  if (fingers.size === 0) held = null;
  fingers.set(event.pointerId, { ...at, onStrip: at.y > size.stripTop });
  grip();
  if (at.y > size.stripTop) follow(at.x);
});

function follow(x) {
  const middle = stripT(x), half = span() / 2;
  held.moved = true;
  show(middle - half, middle + half);
}

canvas.addEventListener("pointermove", (event) => {
  const at = place(event), finger = fingers.get(event.pointerId);
  if (pick.dragging) {
    stretch(at.x);
    pointed.at = T(at.x);
    return read(false);
  }
  if (!finger) {
    if (event.pointerType !== "touch") {
      pointed.at = at.x >= size.left && at.y < size.stripTop ? T(at.x) : null;
      const swing = best() && swingAt(best(), at.x, at.y);
      canvas.style.cursor = at.y > size.stripTop ? "ew-resize" : swing ? "pointer" : "";
      read(false);
    }
    return;
  }
  Object.assign(finger, at);
  if (finger.onStrip) return follow(at.x);
  const [a, b] = [...fingers.values()];
  const perPixel = (held.to - held.from) / plotWidth();
  const under = (x) => held.from + (x - size.left) * perPixel;
  if (b && held.b) {
    // Both instants stay under their fingers.
    const apart = Math.max(12, Math.abs(a.x - b.x)), before = Math.max(12, Math.abs(held.a.x - held.b.x));
    const scaled = perPixel * (before / apart);
    const middle = (a.x + b.x) / 2, from = under((held.a.x + held.b.x) / 2) - (middle - size.left) * scaled;
    held.moved = true;
    show(from, from + scaled * plotWidth());
  } else {
    const shift = (held.a.x - a.x) * perPixel;
    if (!held.moved && Math.abs(held.a.x - a.x) < 4) return;
    held.moved = true;
    canvas.classList.add("moving");
    show(held.from + shift, held.to + shift);
  }
});

function lift(event) {
  if (pick.dragging) {
    if (event.type === "pointerup") end(); else drop();
    return redraw();
  }
  const finger = fingers.get(event.pointerId);
  if (!finger) return;
  fingers.delete(event.pointerId);
  canvas.classList.remove("moving");
  if (fingers.size) return grip();
  if (event.type === "pointerup" && held && !held.moved) {
    const swing = best() && swingAt(best(), finger.x, finger.y);
    if (swing) return location.assign(swing.href);
    pointed.at = finger.x >= size.left ? T(finger.x) : null;
    read(event.pointerType === "touch");
    if (pointed.at !== null && finger.y < size.lanesTop) toEpisode(pointed.at);
  }
}
canvas.addEventListener("pointerup", lift);
canvas.addEventListener("pointercancel", lift);
canvas.addEventListener("pointerleave", (event) => {
  if (event.pointerType === "touch" || fingers.size) return;
  pointed.at = null;
  read(false);
});

canvas.addEventListener("wheel", (event) => {
  const at = place(event);
  const unit = event.deltaMode === 1 ? 16 : event.deltaMode === 2 ? 400 : 1;
  const sideways = event.shiftKey ? event.deltaY || event.deltaX : event.deltaX;
  event.preventDefault();
  if (event.shiftKey || Math.abs(event.deltaX) > Math.abs(event.deltaY)) return pan(sideways * unit * secondsAPixel());
  const pace = event.ctrlKey ? 0.01 : 0.0018;
  const about = at.y > size.stripTop ? (view.from + view.to) / 2 : T(Math.max(size.left, at.x));
  zoom(Math.exp(Math.max(-240, Math.min(240, event.deltaY * unit)) * pace), about);
}, { passive: false });

canvas.addEventListener("dblclick", (event) => zoom(0.25, T(place(event).x)));

// The next reading, column or day along; the view follows when it leaves the picture.
function step(direction) {
  const tile = best();
  if (!tile) return;
  if (pointed.at === null || pointed.at < view.from || pointed.at > view.to) pointed.at = (view.from + view.to) / 2;
  else if (isFar(tile)) {
    const rows = tile.spread.rows;
    const next = direction > 0 ? rows.find(([from]) => from > pointed.at) : rows.findLast(([, to]) => to <= pointed.at);
    if (next) pointed.at = (next[0] + next[1]) / 2;
  } else {
    const series = primary(tile);
    if (!series || !series.n) return;
    const half = series.raw ? 0 : tile.step / 2;
    const i = direction > 0 ? lower(series.at, pointed.at - half + 0.5) : lower(series.at, pointed.at - half - 0.5) - 1;
    pointed.at = series.at[Math.max(0, Math.min(series.n - 1, i))] + half;
  }
  if (pointed.at < view.from || pointed.at > view.to) show(pointed.at - span() / 2, pointed.at + span() / 2);
  read(true);
}

const keys = {
  ArrowLeft: (event) => (event.shiftKey ? pan(-span() / 4) : step(-1)),
  ArrowRight: (event) => (event.shiftKey ? pan(span() / 4) : step(1)),
  PageUp: () => pan(-span()),
  PageDown: () => pan(span()),
  Home: () => { show(book.from, book.from + span()); pointed.at = null; read(false); },
  End: () => { show(book.to - span(), book.to); pointed.at = null; read(false); },
  Enter: () => {
    const swing = pointed.at !== null && best() && swingOf(best(), pointed.at);
    if (swing) return location.assign(swing.href);
    if (pointed.at !== null) toEpisode(pointed.at);
  },
  m: () => {
    const said = byKey();
    if (said) { words.setAttribute("aria-live", "polite"); words.textContent = said; }
    redraw();
  },
  Escape: () => { drop(); pointed.at = null; read(false); },
};
keys["+"] = keys["="] = () => zoom(0.5, focus());
keys["-"] = keys["_"] = () => zoom(2, focus());
const focus = () => (pointed.at !== null && pointed.at > view.from && pointed.at < view.to ? pointed.at : (view.from + view.to) / 2);

canvas.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || !keys[event.key]) return;
  event.preventDefault();
  keys[event.key](event);
});

// Links that lead to another stretch are followed without leaving the page.
document.addEventListener("click", (event) => {
  const link = event.target.closest("a[data-from], a[data-span], a[data-shift]");
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey || event.button) return;
  event.preventDefault();
  const { from, to, span: length, shift } = link.dataset;
  const middle = Math.min(focus(), book.to);
  if (from) show(Number(from), Number(to), { push: true });
  else if (length) show(middle - Number(length) / 2, middle + Number(length) / 2, { push: true });
  else show(view.from + Number(shift) * span(), view.to + Number(shift) * span(), { push: true });
});

// A date is looked up by the server, which knows the days of the lived clock.
document.addEventListener("submit", async (event) => {
  const form = event.target.closest("form[data-jump]");
  if (!form) return;
  event.preventDefault();
  const answer = await fetch(`${book.day}?date=${encodeURIComponent(new FormData(form).get("date"))}`);
  if (!answer.ok) return;
  const { from, to } = await answer.json();
  show(from, to, { push: true });
});

// ---- size, colours, start ----------------------------------------------------------------------------------------

function resize() {
  const box = canvas.getBoundingClientRect();
  const dpr = Math.min(3, window.devicePixelRatio || 1);
  if (box.width === 0 || (box.width === size.w && box.height === size.h && dpr === size.dpr)) return;
  const [w, h] = [box.width, box.height];
  canvas.width = Math.round(w * dpr);
  canvas.height = Math.round(h * dpr);
  const stripTop = h - STRIP, axisTop = stripTop - AXIS, lanesTop = axisTop - book.lanes.length * LANE;
  Object.assign(size, {
    w, h, dpr, stripTop, axisTop, lanesTop,
    left: w < 620 ? 0 : 76, plotTop: TOP, plotBottom: lanesTop - 10,
  });
  readColours();
  redraw();
  want(redraw);
}

const dark = matchMedia("(prefers-color-scheme: dark)");
dark.addEventListener("change", () => { readColours(); redraw(); });

// News of the book: the pictures and words are asked for again. A view that shows its end moves on with it.
async function look() {
  const answer = await fetch(`/days?${book.ask}`, { headers: { accept: "text/html" } });
  if (!answer.ok) return;
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const news = page.getElementById("timeline-book");
  if (!news) return;
  const last = book.to, atEnd = view.to >= last;
  Object.assign(book, JSON.parse(news.textContent));
  await store.waiting;
  const whole = await fetchTile(book.from, book.to, Math.max(300, size.w));
  Object.assign(store, { tiles: [], whole });
  const on = atEnd ? book.to - last : 0;
  if (on) show(view.from + on, view.to + on, { settle: false });
  resize();
  redraw();
  want(redraw);
  tell();
}
listen(look);

root.classList.add("live");
named();
new ResizeObserver(resize).observe(canvas);
resize();
fetchTile(book.from, book.to, Math.max(300, size.w)).then((tile) => { store.whole = tile; redraw(); }).catch(() => {});

window.interstice = Object.assign(window.interstice || {}, {
  timeline: {
    counters,
    view: () => ({ ...view }),
    cursor: () => pointed.at,
    ready: () => Boolean(store.tiles.find(suits)) && !store.waiting && Boolean(store.whole) && !due,
    x: X,
    events: (lane) => (best()?.events ?? []).filter((event) => event.lane === lane),
  },
});
