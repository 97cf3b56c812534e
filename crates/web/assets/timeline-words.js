// Reading out: the words for what stands at an instant.

import { X, book, isFar, lower, primary, secondsAPixel } from "./timeline-scene.js";

const MONTHS = ["January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
  "November", "December"];
const WEEKDAYS = ["Sunday", "Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday"];
const two = (n) => String(n).padStart(2, "0");

// The lived wall clock of an instant, from the offsets that came with the page.
function wall(at) {
  let offset = book.clock[0][1];
  for (const [from, seconds] of book.clock) { if (from > at) break; offset = seconds; }
  return new Date((at + offset) * 1000);
}
const hour = (at) => { const d = wall(at); return `${two(d.getUTCHours())}:${two(d.getUTCMinutes())}`; };
export const local = (at) => {
  const d = wall(at);
  return `${d.getUTCFullYear()}-${two(d.getUTCMonth() + 1)}-${two(d.getUTCDate())}T${two(d.getUTCHours())}:${two(d.getUTCMinutes())}`;
};
const day = (at) => {
  const d = wall(at);
  return `${WEEKDAYS[d.getUTCDay()]} ${d.getUTCDate()} ${MONTHS[d.getUTCMonth()]} ${d.getUTCFullYear()}`;
};
const shown = (v) => (Math.round(v * 10 ** book.decimals + 1e-9) / 10 ** book.decimals).toFixed(book.decimals);

// What stands at an instant: a stretch of days, a column or a reading.
export function found(tile, at) {
  if (isFar(tile)) {
    const row = tile.spread.rows.find(([from, to]) => from <= at && at < to);
    return row ? { kind: "stretch", at: (row[0] + row[1]) / 2, row } : null;
  }
  const series = primary(tile);
  if (!series || !series.n) return null;
  const step = series.raw ? 0 : tile.step;
  let i = lower(series.at, at - step / 2);
  if (i > 0 && (i === series.n || at - series.at[i - 1] - step / 2 < series.at[i] + step / 2 - at)) i -= 1;
  const middle = series.at[i] + step / 2;
  if (Math.abs(middle - at) > Math.max(9 * secondsAPixel(), step)) return null;
  return { kind: series.raw ? "reading" : "column", at: middle, i, series };
}

export function sentence(tile, at) {
  const it = found(tile, at);
  const beside = tile.events
    .filter((e) => e.until !== undefined && (e.kind === "bar" || e.kind === "chain") ? e.at <= at && at <= e.until && e.lane !== "sensor"
      : Math.abs(X(e.at) - X(at)) < 7)
    .slice(0, 4)
    .map((e) => e.text);
  const tail = beside.length ? ` · ${beside.join(" · ")}` : "";
  if (!it) return `${day(at)}, ${hour(at)} · no reading${tail}`;
  if (it.kind === "stretch") {
    const [from, , n, p5, p25, p50, p75, p95] = it.row;
    const name = tile.spread.kind === "day" ? day(from)
      : tile.spread.kind === "week" ? `week of ${day(from)}` : `${MONTHS[wall(from + 86400).getUTCMonth()]} ${wall(from + 86400).getUTCFullYear()}`;
    return `${name} · ${n.toLocaleString("en")} readings · median ${shown(p50)}, half between ${shown(p25)} and ${shown(p75)}, `
      + `nine in ten between ${shown(p5)} and ${shown(p95)} ${book.unit}`;
  }
  const { series, i } = it;
  if (it.kind === "reading") {
    const edge = series.flag[i] & 2 ? "below " : series.flag[i] & 4 ? "above " : "";
    return `${day(series.at[i])}, ${hour(series.at[i])} · ${edge}${shown(series.last[i])} ${book.unit}, `
      + `${book.ranges[series.flag[i] >> 4]}${tail}`;
  }
  return `${day(series.at[i])}, ${hour(series.at[i])} to ${hour(series.at[i] + tile.step)} · ${shown(series.low[i])} to `
    + `${shown(series.high[i])} ${book.unit}, ${series.count[i]} readings${tail}`;
}
