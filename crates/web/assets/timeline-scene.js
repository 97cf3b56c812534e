// What is shown: the book, the stretch in view, and where things lie on the canvas. Everything here is a place or a
// length; no date is computed.

export const root = document.getElementById("timeline");
export const book = JSON.parse(document.getElementById("timeline-book").textContent);
export const canvas = root.querySelector("canvas");

export const SHORTEST = 600;
export const LANE = 22, AXIS = 40, STRIP = 34, TOP = 10;

// First instant in view and first instant after it.
export const view = { from: book.view.from, to: book.view.to };

// Places on the canvas, in pixels as text is measured in.
export const size = { w: 0, h: 0, dpr: 1, left: 0, plotTop: TOP, plotBottom: 0, lanesTop: 0, axisTop: 0, stripTop: 0 };

// The instant pointed at, or null.
export const pointed = { at: null };

export const span = () => view.to - view.from;
export const plotWidth = () => Math.max(1, size.w - size.left);
export const secondsAPixel = () => span() / plotWidth();

export const X = (t) => size.left + ((t - view.from) / span()) * plotWidth();
export const T = (x) => view.from + ((x - size.left) / plotWidth()) * span();
// By ratio, as on every picture here: lows get as much room as highs.
export const Y = (v) => {
  const share = Math.log(Math.max(v, book.bottom * 0.5) / book.bottom) / Math.log(book.top / book.bottom);
  return size.plotBottom - Math.max(-0.01, Math.min(1.02, share)) * (size.plotBottom - size.plotTop);
};

// Edges between the five ranges, as y from the top: very high | high | in range | low | very low.
export const edges = () => [Y(book.edges[3]), Y(book.edges[2]), Y(book.edges[1]), Y(book.edges[0])];

// First index whose instant is not before t.
export function lower(column, t) {
  let from = 0, to = column.length;
  while (from < to) {
    const mid = (from + to) >> 1;
    if (column[mid] < t) from = mid + 1; else to = mid;
  }
  return from;
}

export const primary = (tile) => tile.series.find((series) => series.role === "primary");
export const isFar = (tile) => tile.spread && secondsAPixel() / 3600 > 1.5;

// The whole book in miniature, under the axis.
export const stripX = (t) => ((t - book.from) / (book.to - book.from)) * size.w;
export const stripT = (x) => book.from + (x / size.w) * (book.to - book.from);
