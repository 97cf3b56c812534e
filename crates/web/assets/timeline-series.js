// The readings: columns, lines, other sensors, spread.

import { RANGE_COLOURS, colour, hatch, ink, snap } from "./timeline-brush.js";
import { X, Y, book, edges, lower, plotWidth, secondsAPixel, size, view } from "./timeline-scene.js";

const seen = (tile, series) => {
  const step = series.raw ? 0 : tile.step;
  return [Math.max(0, lower(series.at, view.from - step) - 1), Math.min(series.n, lower(series.at, view.to) + 1)];
};

export function trace(tile, series, alpha) {
  const [from, to] = seen(tile, series);
  ink.globalAlpha = alpha;
  if (series.raw && (to - from) < plotWidth() * 0.8) readings(series, from, to);
  else columns(tile, series, from, to);
  ink.globalAlpha = 1;
}

// A column of the screen from its lowest to its highest, reaching to where the one before it ended, cut at the
// edges of the ranges. Filled rectangles on device pixels: nothing blurs and nothing is lost.
function columns(tile, series, from, to) {
  const cuts = edges(), dpr = size.dpr, step = series.raw ? 0 : tile.step;
  const rects = [[], [], [], [], []];
  let pixel = NaN, top = Infinity, bottom = -Infinity, before = NaN;
  const flush = () => {
    if (bottom < top) return;
    if (bottom - top < 1.4) { const mid = (top + bottom) / 2; top = mid - 0.7; bottom = mid + 0.7; }
    for (let band = 0; band < 5; band++) {
      const y0 = band === 0 ? top : Math.max(top, cuts[band - 1]);
      const y1 = band === 4 ? bottom : Math.min(bottom, cuts[band]);
      if (y1 > y0) rects[band].push(pixel / dpr, y0, y1 - y0);
    }
  };
  for (let i = from; i < to; i++) {
    const x = Math.floor(X(series.at[i] + step / 2) * dpr);
    const high = Y(series.high[i]), low = Y(series.low[i]);
    const joined = !(series.flag[i] & 1) && i > from;
    if (x !== pixel) {
      flush();
      if (joined && x > pixel + 1) bridge(rects, pixel + 1, x, before, Y(series.first[i]), cuts);
      [pixel, top, bottom] = [x, high, low];
      if (joined) { top = Math.min(top, before); bottom = Math.max(bottom, before); }
    } else {
      top = Math.min(top, high);
      bottom = Math.max(bottom, low);
    }
    before = Y(series.last[i]);
  }
  flush();
  const wide = 1 / dpr;
  for (let band = 0; band < 5; band++) {
    const list = rects[band];
    if (!list.length) continue;
    ink.fillStyle = colour[RANGE_COLOURS[band]];
    for (let i = 0; i < list.length; i += 3) ink.fillRect(list[i], list[i + 1], wide, list[i + 2]);
  }
}

// Joined columns with empty pixels between them: a straight line in steps of a pixel.
function bridge(rects, from, to, y0, y1, cuts) {
  if (to - from > 60 * size.dpr) return;
  for (let x = from; x < to; x++) {
    const y = y0 + ((y1 - y0) * (x - from + 1)) / (to - from + 1);
    let band = 0;
    while (band < 4 && y > cuts[band]) band++;
    rects[band].push(x / size.dpr, y - 0.7, 1.4);
  }
}

// Few enough readings for a line: the line in each range's colour, the area beyond the range tinted, dots when
// there is room for them, hollow ones at the edge of what the sensor can measure.
function readings(series, from, to) {
  const route = new Path2D(), area = new Path2D(), middle = Y((book.edges[1] + book.edges[2]) / 2);
  let top = Infinity, bottom = -Infinity, lastX = 0;
  for (let i = from; i < to; i++) {
    const x = X(series.at[i]), y = Y(series.last[i]);
    if (i === from || series.flag[i] & 1) {
      if (i > from) area.lineTo(lastX, middle);
      route.moveTo(x, y);
      area.moveTo(x, middle);
      area.lineTo(x, y);
    } else {
      route.lineTo(x, y);
      area.lineTo(x, y);
    }
    lastX = x;
    top = Math.min(top, y);
    bottom = Math.max(bottom, y);
  }
  area.lineTo(lastX, middle);
  const alpha = ink.globalAlpha, cuts = [-10, ...edges(), size.plotBottom + 10];
  const grounds = [colour.abovePale, colour.abovePale, null, colour.belowPale, colour.belowPale];
  const strokes = [hatch.above2, null, null, null, hatch.below2];
  for (let band = 0; band < 5; band++) {
    if (bottom + 2 < cuts[band] || top - 2 > cuts[band + 1]) continue;
    ink.save();
    ink.beginPath();
    ink.rect(size.left, cuts[band], plotWidth(), cuts[band + 1] - cuts[band]);
    ink.clip();
    if (grounds[band]) { ink.fillStyle = grounds[band]; ink.fill(area); }
    if (strokes[band]) { ink.globalAlpha = alpha * 0.55; ink.fillStyle = strokes[band]; ink.fill(area); ink.globalAlpha = alpha; }
    ink.strokeStyle = colour[RANGE_COLOURS[band]];
    ink.lineWidth = band === 0 || band === 4 ? 2.2 : 1.7;
    ink.lineJoin = "round";
    ink.stroke(route);
    ink.restore();
  }
  dots(series, from, to, 2.1);
}

function dots(series, from, to, radius) {
  const room = plotWidth() / Math.max(1, to - from);
  for (let i = from; i < to; i++) {
    const censored = series.flag[i] & 6;
    const alone = series.flag[i] & 1 && (i + 1 >= to || series.flag[i + 1] & 1);
    if (room < 6 && !censored && !alone) continue;
    const x = X(series.at[i]), y = Y(series.last[i]);
    ink.beginPath();
    ink.arc(x, y, censored ? radius + 0.8 : radius, 0, 7);
    ink.fillStyle = censored ? colour.paper : colour[RANGE_COLOURS[series.flag[i] >> 4]];
    ink.fill();
    if (censored) { ink.strokeStyle = colour.ink; ink.lineWidth = 1.2; ink.stroke(); }
  }
}

// Traces that are not the primary: a second sensor as a pale thin line, readings by hand as small crosses.
export function aside(series, alpha) {
  const [from, to] = [Math.max(0, lower(series.at, view.from) - 1), Math.min(series.n, lower(series.at, view.to) + 1)];
  ink.globalAlpha = alpha;
  ink.strokeStyle = series.role === "scan" ? colour.soft : colour.strong;
  ink.lineWidth = 1;
  ink.beginPath();
  for (let i = from; i < to; i++) {
    const x = X(series.at[i]), y = Y(series.last[i]);
    if (series.role === "scan") {
      ink.moveTo(x - 2.5, y); ink.lineTo(x + 2.5, y);
      ink.moveTo(x, y - 2.5); ink.lineTo(x, y + 2.5);
    } else if (i === from || series.flag[i] & 1) ink.moveTo(x, y);
    else ink.lineTo(x, y);
  }
  ink.stroke();
  ink.globalAlpha = 1;
}

// One bar a day, week or month: 5 to 95 % pale, the middle half darker, the median as a line of ink.
export function spreads(tile, alpha) {
  const cuts = [-1e4, ...edges(), 1e4];
  const pale = [colour.above1, colour.abovePale, colour.slatePale, colour.belowPale, colour.below1];
  const full = [colour.above2, colour.above1, colour.slate, colour.below1, colour.below2];
  const bar = (x0, x1, high, low, fills) => {
    const y0 = Y(high), y1 = Y(low);
    for (let band = 0; band < 5; band++) {
      const from = Math.max(y0, cuts[band]), to = Math.min(y1, cuts[band + 1]);
      if (to <= from) continue;
      ink.fillStyle = fills[band];
      ink.fillRect(x0, from, x1 - x0, to - from);
    }
  };
  ink.globalAlpha = alpha;
  const medians = new Path2D();
  let joined = NaN;
  for (const [from, to, , p5, p25, p50, p75, p95] of tile.spread.rows) {
    let x0 = X(from), x1 = X(to);
    if (x1 < size.left || x0 > size.w) continue;
    const gap = x1 - x0 > 9 ? Math.min(4, (x1 - x0) * 0.12) : x1 - x0 > 4 ? 0.5 : 0;
    [x0, x1] = [snap(x0 + gap), snap(x1 - gap)];
    bar(x0, x1, p95, p5, pale);
    bar(x0, x1, p75, p25, full);
    const y = snap(Y(p50)) + 0.5;
    // Narrow stretches make one stepped line, as far as they follow on each other.
    if (gap === 0 && joined === from) medians.lineTo(x0, y); else medians.moveTo(x0, y);
    medians.lineTo(x1, y);
    joined = to;
  }
  ink.strokeStyle = colour.ink;
  ink.lineWidth = secondsAPixel() > 14400 ? 1 : 1.6;
  ink.stroke(medians);
  ink.globalAlpha = 1;
}
