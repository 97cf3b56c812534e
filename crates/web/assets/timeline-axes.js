// What the picture stands in: nights, lines, scale, axis, and the whole book in miniature.

import { colour, crisp, font, ink, line, text } from "./timeline-brush.js";
import { AXIS, LANE, STRIP, TOP, X, Y, book, size, stripX, view } from "./timeline-scene.js";
import { store } from "./timeline-tiles.js";

export function nights(tile) {
  ink.fillStyle = colour.night;
  for (const [from, to] of tile.nights) {
    const x0 = X(from), x1 = X(to);
    if (x1 < size.left || x0 > size.w || x1 - x0 < 1.5) continue;
    ink.globalAlpha = Math.min(1, (x1 - x0 - 1.5) / 5);
    ink.fillRect(x0, size.plotTop - TOP, x1 - x0, size.axisTop - size.plotTop + TOP);
  }
  ink.globalAlpha = 1;
}

export function grid(tile) {
  for (const [at] of tile.ticks.major) {
    const x = crisp(X(at));
    if (x > size.left) line(x, 0, x, size.axisTop + AXIS - 6, colour.rule);
  }
  for (const [v, , weight] of book.lines) {
    const y = crisp(Y(v));
    line(size.left, y, size.w, y, weight > 1 ? colour.strong : colour.rule, weight > 1 ? [1, 3] : [1, 5]);
  }
}

export function scale() {
  font(11);
  ink.textBaseline = "middle";
  const narrow = size.left === 0;
  let last = Infinity;
  for (const [v, label, weight] of book.lines) {
    const y = Y(v);
    if (Math.abs(y - last) < 12) continue;
    last = y;
    const fill = weight > 1 ? colour.ink : colour.soft;
    if (narrow) text(label, 3, y, fill, "left", true);
    else text(label, size.left - 8, y, fill, "right");
  }
  if (narrow) text(book.unit, size.w - 4, TOP, colour.soft, "right", true);
  else text(book.unit, size.left - 8, TOP - 2, colour.soft, "right");
  book.lanes.forEach((lane, i) => {
    const y = size.lanesTop + i * LANE + LANE / 2;
    if (narrow) text(lane.label, size.w - 4, y + 0.5, colour.soft, "right", true);
    else text(lane.label, size.left - 8, y + 0.5, colour.soft, "right");
    line(size.left, crisp(size.lanesTop + i * LANE), size.w, crisp(size.lanesTop + i * LANE), colour.rule);
  });
  ink.textBaseline = "alphabetic";
}

export function axis(tile) {
  const y = crisp(size.axisTop);
  line(size.left, y, size.w, y, colour.strong);
  font(11);
  let last = -Infinity;
  for (const [at, label] of tile.ticks.minor) {
    const x = X(at);
    if (x < size.left || x > size.w) continue;
    line(crisp(x), y, crisp(x), y + 4, colour.strong);
    const wide = ink.measureText(label).width;
    if (x - wide / 2 < last + 9 || x + wide / 2 > size.w || x - wide / 2 < size.left - 6) continue;
    text(label, x, y + 15, colour.soft, "center");
    last = x + wide / 2;
  }
  majors(tile, y + 32);
}

// The name of the day, month or year that a tick is in; the one at the left edge stays there while it lasts.
function majors(tile, y) {
  font(12, "600");
  const ticks = tile.ticks.major;
  let last = -Infinity;
  for (let i = 0; i < ticks.length; i++) {
    const [at, label] = ticks[i], next = i + 1 < ticks.length ? X(ticks[i + 1][0]) : Infinity;
    const wide = ink.measureText(label).width;
    let x = X(at);
    if (next < size.left || x > size.w) continue;
    if (x < size.left) x = Math.min(size.left, next - wide - 12);
    if (x < last + 10 || x + wide > size.w + 2 || x + wide < size.left) continue;
    text(label, Math.max(x, 0) + 3, y, colour.ink);
    last = x + wide;
  }
}

// The whole book in miniature with the view framed on it.

export function strip() {
  const top = size.stripTop + 6, tall = STRIP - 10;
  ink.fillStyle = colour.night;
  ink.fillRect(0, top, size.w, tall);
  const y = (v) => top + ((Y(v) - size.plotTop) / (size.plotBottom - size.plotTop)) * tall;
  if (store.whole && store.whole.spread) {
    for (const [from, to, , p5, p25, , p75, p95] of store.whole.spread.rows) {
      const x0 = stripX(from), wide = Math.max(stripX(to) - x0, 0.6);
      ink.fillStyle = colour.slatePale;
      ink.fillRect(x0, y(p95), wide, y(p5) - y(p95));
      ink.fillStyle = colour.slate;
      ink.fillRect(x0, y(p75), wide, Math.max(1, y(p25) - y(p75)));
    }
  } else if (store.whole) {
    const series = store.whole.series.find((s) => s.role === "primary");
    ink.fillStyle = colour.slate;
    for (let i = 0; series && i < series.n; i++) {
      ink.fillRect(stripX(series.at[i]), y(series.high[i]), 1, Math.max(1, y(series.low[i]) - y(series.high[i])));
    }
  }
  const x0 = Math.max(0, stripX(view.from)), x1 = Math.min(size.w, stripX(view.to));
  const left = Math.min(x0, size.w - 4), wide = Math.max(4, x1 - x0);
  ink.globalAlpha = 0.5;
  ink.fillStyle = colour.paper;
  ink.fillRect(0, top, left, tall);
  ink.fillRect(left + wide, top, size.w - left - wide, tall);
  ink.globalAlpha = 1;
  ink.strokeStyle = colour.ink;
  ink.lineWidth = 1.5;
  ink.strokeRect(left + 0.75, top + 0.75, Math.max(2, wide - 1.5), tall - 1.5);
}
