// What was written down: lanes, blood checks, stretches not believed.

import { colour, font, hatch, ink, text } from "./timeline-brush.js";
import { LANE, X, Y, book, secondsAPixel, size } from "./timeline-scene.js";

export function artefacts(tile) {
  for (const event of tile.events) {
    if (event.lane !== "artefact") continue;
    const x0 = X(event.at), x1 = Math.max(X(event.until ?? event.at), x0 + 2);
    if (x1 - x0 < 5) {
      // Too narrow for a hatch: a mark at the top edge.
      ink.fillStyle = colour.strong;
      ink.fillRect(x0, 0, Math.max(1, x1 - x0), 5);
      continue;
    }
    ink.fillStyle = hatch.artefact;
    ink.fillRect(x0, size.plotTop, x1 - x0, size.plotBottom - size.plotTop);
    font(11);
    if (x1 - x0 > 30) text(event.label, x0 + 3, size.plotTop + 10, colour.soft, "left", true);
  }
}

const laneTop = (lane) => size.lanesTop + book.lanes.findIndex((l) => l.key === lane) * LANE;

export function lanes(tile) {
  font(11);
  ink.textBaseline = "middle";
  const free = {};
  for (const event of tile.events) {
    if (event.lane === "artefact" || event.lane === "check") continue;
    const top = laneTop(event.lane);
    if (top < size.lanesTop) continue;
    const x0 = X(event.at), x1 = event.until === undefined ? x0 : X(event.until);
    if (x1 < size.left - 80 || x0 > size.w + 4) continue;
    const past = mark(event, x0, x1, top, tile.most[event.lane]);
    if (event.label && x0 > (free[event.lane] ?? -Infinity)) {
      free[event.lane] = label(event, x0, x1, past, top) ?? free[event.lane];
    }
  }
  ink.textBaseline = "alphabetic";
}

// Writes an event's label where there is room, inside a bar or after a mark, and says where it ends.
function label(event, x0, x1, past, top) {
  const bar = event.kind === "bar";
  const told = bar || event.lane === "sensor" || event.lane === "note" || secondsAPixel() < 320;
  if (!told || (!bar && x0 < size.left - 1)) return undefined;
  const start = bar ? Math.max(x0, size.left) + 6 : Math.max(past, size.left) + 4;
  // Where the picture is narrow the lane's own name stands at its right end.
  const edge = size.left === 0 ? size.w - 48 : Infinity;
  const end = Math.min(edge, bar ? x1 : event.room === undefined ? Infinity : X(event.room));
  const wide = ink.measureText(event.label).width;
  if (end - start < wide + 6) return undefined;
  text(event.label, start, top + LANE / 2 + 0.5, bar ? colour.ink : colour.soft);
  return bar ? x1 : start + wide + 4;
}

// Draws an event's mark and says where it ends.
function mark(event, x0, x1, top, most) {
  const mid = top + LANE / 2, low = top + LANE - 4;
  ink.fillStyle = colour.soft;
  ink.strokeStyle = colour.soft;
  ink.lineWidth = 1.3;
  if (event.kind === "bar") {
    const left = Math.max(x0, size.left - 4), right = Math.min(Math.max(x1, x0 + 2), size.w + 4);
    const upper = top + (event.second ? LANE / 2 : 4), tall = event.second ? LANE / 2 - 4 : LANE - 8;
    if (event.was === "open") {
      // Not judged: an open bar.
      ink.strokeStyle = colour.ink;
      ink.strokeRect(left + 0.5, upper + 0.5, Math.max(1.5, right - left - 1), tall - 1);
      return right;
    }
    ink.fillStyle = event.was === "real" ? colour.ink : event.second ? colour.slate : colour.slatePale;
    ink.fillRect(left, upper, right - left, tall);
    // Where it begins and ends, unless that is out of view.
    ink.fillStyle = colour.strong;
    if (x0 >= size.left - 4) ink.fillRect(left, upper - 1, 1, tall + 2);
    if (x1 <= size.w + 4 && right - left > 3) ink.fillRect(right - 1, upper - 1, 1, tall + 2);
    return right;
  }
  if (event.kind === "chain" && event.links) return chain(event, x0, x1, mid);
  if (event.n > 1) {
    // Several in a few pixels: a pale block, as tall as they are many.
    const tall = (LANE - 8) * Math.sqrt(event.n / most), wide = Math.max(2, x1 - x0);
    ink.globalAlpha = 0.42;
    ink.fillRect(x0, low - tall, wide, tall);
    ink.globalAlpha = 1;
    return x0 + wide;
  }
  const tall = 4 + (LANE - 11) * (event.size ?? 0.5);
  ink.beginPath();
  if (secondsAPixel() > 1000 && event.kind !== "change" && event.kind !== "note") {
    // Hours lie within a few pixels: a plain stroke for each.
    ink.globalAlpha = 0.75;
    ink.fillRect(x0 - 0.75, low - tall, event.kind === "long" ? 3 : 1.5, tall);
    ink.globalAlpha = 1;
    return x0 + 2;
  }
  if (event.kind === "meal") {
    ink.arc(x0, low, Math.max(3, tall * 0.55), Math.PI, 0);
    ink.closePath();
    ink.fill();
    return x0 + tall * 0.55;
  }
  if (event.kind === "dose") {
    ink.fillRect(x0 - 1.25, low - tall, 2.5, tall);
    return x0 + 2;
  }
  if (event.kind === "rate") {
    ink.globalAlpha = 0.6;
    ink.fillRect(x0 - 0.5, low - tall * 0.6, 1, tall * 0.6);
    ink.globalAlpha = 1;
    return x0 + 1;
  }
  if (event.kind === "long") {
    ink.moveTo(x0 - 4, low);
    ink.lineTo(x0 - 1.5, low - tall);
    ink.lineTo(x0 + 9, low - 2);
    ink.lineTo(x0 + 9, low);
    ink.closePath();
    ink.fill();
    return x0 + 9;
  }
  if (event.kind === "change") {
    ink.fillStyle = colour.ink;
    ink.fillRect(x0 - 0.75, top + 2, 1.5, LANE - 4);
    if (event.room !== undefined && X(event.room) - x0 < 12) return x0 + 2;
    ink.moveTo(x0, top + 2);
    ink.lineTo(x0 + 7, top + 5);
    ink.lineTo(x0, top + 8);
    ink.fill();
    return x0 + 7;
  }
  ink.arc(x0, mid, 2.6, 0, 7);
  ink.stroke();
  return x0 + 3;
}

// A swing: its links on a line, highs and lows in their colours, doses upright, food lying.
function chain(event, x0, x1, mid) {
  const left = Math.max(x0, size.left - 4), right = Math.min(x1, size.w + 4);
  ink.strokeStyle = colour.strong;
  ink.lineWidth = 1.5;
  ink.beginPath();
  ink.moveTo(left, mid);
  ink.lineTo(right, mid);
  ink.stroke();
  // Where hours lie within a few pixels links would cover one another: the line alone, with its ends.
  const close = secondsAPixel() > 420;
  for (const [at, what] of close ? [event.links[0], event.links[event.links.length - 1]] : event.links) {
    const x = X(at);
    if (x < size.left - 6 || x > size.w + 6) continue;
    ink.fillStyle = what === "high" ? colour.above1 : what === "low" ? colour.below1 : colour.ink;
    ink.beginPath();
    if (what === "dose") ink.rect(x - 1.25, mid - 5.5, 2.5, 11);
    else if (what === "food") ink.arc(x, mid + 1.5, 4, Math.PI, 0);
    else ink.arc(x, mid, 3.6, 0, 7);
    ink.fill();
  }
  return right;
}

// The swing at a place of the picture, or nothing.
export function swingAt(tile, x, y) {
  const top = laneTop("swing");
  if (top < size.lanesTop || y < top || y >= top + LANE) return undefined;
  return swings(tile).find((event) => X(event.at) - 6 <= x && x <= X(event.until) + 6);
}

// The swing that goes on at an instant.
export const swingOf = (tile, at) => swings(tile).find((event) => event.at <= at && at <= event.until);

const swings = (tile) => tile.events.filter((event) => event.lane === "swing" && event.href);

// Blood checks at their value on the scale of the readings: rings filled with paper, laboratory values square. Where
// days are narrow they shrink to points, so that they do not cover the readings.
export function checks(tile) {
  const pace = secondsAPixel();
  const wide = Math.max(1, Math.min(3.6, 3.6 - Math.log2(pace / 700) * 0.7));
  ink.lineWidth = wide > 2 ? 1.7 : 1;
  ink.globalAlpha = wide > 2 ? 1 : 0.45;
  for (const event of tile.events) {
    if (event.lane !== "check") continue;
    const x = X(event.at);
    if (x < size.left - 6 || x > size.w + 6) continue;
    for (const v of event.n > 1 ? [event.low, event.high] : [event.low]) {
      const y = Y(v);
      ink.beginPath();
      if (event.kind === "laboratory") ink.rect(x - wide, y - wide, 2 * wide, 2 * wide);
      else ink.arc(x, y, wide, 0, 7);
      ink.fillStyle = wide > 2 ? colour.paper : colour.ink;
      ink.fill();
      if (wide <= 2) continue;
      ink.strokeStyle = colour.ink;
      ink.stroke();
    }
  }
  ink.globalAlpha = 1;
}
