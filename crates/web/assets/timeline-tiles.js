// What came for a stretch at a scale: columns or readings, ticks, nights, events. Kept while it may be needed again; the
// best of them is drawn, stretched, while a better one is on its way.

import { book, plotWidth, root, secondsAPixel, size, span, view } from "./timeline-scene.js";

const MAGIC = 0x31594144; // 'DAY1', little-endian like all that follows it

export const counters = { draws: 0, lastDrawMs: 0, drawMs: [], fetches: 0, lastFetchMs: 0, tiles: 0, failed: 0 };

// `whole` is the whole book, coarse: it is there when nothing else is.
export const store = { tiles: [], whole: null, waiting: null };

const several = Object.fromEntries(book.several);

function decode(buffer) {
  const head = new DataView(buffer);
  if (head.getUint32(0, true) !== MAGIC) throw new Error("not a timeline tile");
  const length = head.getUint32(4, true);
  const tile = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 8, length)));
  let at = 8 + length;
  const take = (Kind, n) => {
    const column = new Kind(buffer, at, n);
    at += Math.ceil((n * Kind.BYTES_PER_ELEMENT) / 4) * 4;
    return column;
  };
  for (const series of tile.series) {
    const n = series.n;
    series.at = take(Uint32Array, n);
    if (series.raw) {
      series.first = series.low = series.high = series.last = take(Float32Array, n);
    } else {
      series.first = take(Float32Array, n);
      series.low = take(Float32Array, n);
      series.high = take(Float32Array, n);
      series.last = take(Float32Array, n);
      series.count = take(Uint32Array, n);
    }
    series.flag = take(Uint8Array, n);
  }
  // A label may run until the next mark of its lane; blocks of several are as tall as the fullest of the lane.
  const next = {};
  tile.most = {};
  for (const event of [...tile.events].reverse()) {
    event.n ??= 1;
    event.text ??= `${event.n} ${several[event.lane]}`;
    if (event.lane in next) event.room = next[event.lane];
    next[event.lane] = event.at;
    tile.most[event.lane] = Math.max(tile.most[event.lane] || 1, event.n);
  }
  return tile;
}

const covers = (tile) => Math.min(view.to, tile.to) - Math.max(view.from, tile.from);

// A tile suits when it covers the view and its columns are about as wide as a device pixel.
export function suits(tile) {
  if (tile.from > view.from || tile.to < view.to) return false;
  const ratio = (tile.to - tile.from) / tile.px / secondsAPixel();
  return ratio < 1.3 && ratio > 0.3;
}

// The best to draw now: the sharpest of those that cover most.
export function best() {
  let found = store.whole, score = store.whole ? rank(store.whole) : -Infinity;
  for (const tile of store.tiles) {
    const s = rank(tile);
    if (s > score) [found, score] = [tile, s];
  }
  return found;
}

function rank(tile) {
  const covered = Math.max(0, covers(tile)) / span();
  const ratio = (tile.to - tile.from) / tile.px / secondsAPixel();
  return covered * 20 - Math.abs(Math.log2(Math.max(ratio, 1e-9)));
}

export async function fetchTile(from, to, px) {
  const url = `${book.data}?${book.ask}&from=${Math.floor(from)}&to=${Math.ceil(to)}&px=${Math.round(px)}&density=${size.dpr}`;
  const started = performance.now();
  const answer = await fetch(url, { headers: { accept: "application/octet-stream" } });
  if (!answer.ok) throw new Error(`the timeline answered ${answer.status}`);
  const tile = decode(await answer.arrayBuffer());
  tile.px = Math.round(px);
  counters.fetches += 1;
  counters.lastFetchMs = performance.now() - started;
  return tile;
}

// Asks for the view with half of it again on either side, one question at a time; on its answer looks again.
export function want(redraw) {
  if (store.waiting || size.w === 0) return;
  const near = store.tiles.find(suits);
  if (near && (near.from <= view.from - span() * 0.15 || near.from <= book.from) &&
      (near.to >= view.to + span() * 0.15 || near.to >= book.to)) return;
  const margin = span() / 2;
  const from = Math.max(view.from - margin, book.from - span()), to = Math.min(view.to + margin, book.to + span());
  store.waiting = fetchTile(from, to, (plotWidth() * (to - from)) / span())
    .then((tile) => {
      store.tiles.push(tile);
      if (store.tiles.length > 24) store.tiles.shift();
      counters.tiles = store.tiles.length;
      root.classList.remove("failed");
      store.waiting = null;
      redraw();
      want(redraw);
    })
    .catch(() => {
      counters.failed += 1;
      root.classList.add("failed");
      setTimeout(() => { store.waiting = null; want(redraw); }, 2000);
    });
}
