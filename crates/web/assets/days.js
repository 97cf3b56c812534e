// The long timeline. Draws what the server hands over and computes no date: ticks, days, nights and offsets of the
// lived wall clock all come with the data, and the browser's own zone is never asked.
//
// In order: the view and its tiles, drawing, reading out, moving about, the page around it.
"use strict";
(() => {
  const root = document.getElementById("timeline");
  if (!root || !window.fetch || !window.ResizeObserver) return;
  const book = JSON.parse(document.getElementById("timeline-book").textContent);
  const canvas = root.querySelector("canvas");
  const ink = canvas.getContext("2d");
  const words = root.querySelector("[data-readout]");
  const account = document.getElementById("timeline-account");

  const SHORTEST = 600;
  const LANE = 22, AXIS = 40, STRIP = 34, TOP = 10;
  const FONT = 'system-ui, -apple-system, "Segoe UI", Roboto, "Helvetica Neue", Arial, sans-serif';
  const MAGIC = 0x31594144; // 'DAY1', little-endian like all that follows it

  const several = Object.fromEntries(book.several);
  const counters = { draws: 0, lastDrawMs: 0, drawMs: [], fetches: 0, lastFetchMs: 0, tiles: 0, failed: 0 };
  const view = { from: book.view.from, to: book.view.to };
  let size = { w: 0, h: 0, dpr: 1, left: 0, plotTop: TOP, plotBottom: 0, lanesTop: 0, axisTop: 0, stripTop: 0 };
  let cursor = null; // an instant, or null
  let colour = {}, hatch = {};

  // ---- tiles -------------------------------------------------------------------------------------------------

  // What came for a stretch at a scale: columns or readings, ticks, nights, events. Kept by scale, oldest let go.
  const tiles = [];
  let whole = null, waiting = null;

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

  const span = () => view.to - view.from;
  const plotWidth = () => Math.max(1, size.w - size.left);
  const secondsAPixel = () => span() / plotWidth();
  const covers = (tile) => Math.min(view.to, tile.to) - Math.max(view.from, tile.from);

  // A tile suits when it covers the view and its columns are about as wide as a device pixel.
  function suits(tile) {
    if (tile.from > view.from || tile.to < view.to) return false;
    const ratio = (tile.to - tile.from) / tile.px / secondsAPixel();
    return ratio < 1.3 && ratio > 0.3;
  }

  // The best to draw now: the sharpest of those that cover most.
  function best() {
    let found = whole, score = whole ? rank(whole) : -Infinity;
    for (const tile of tiles) {
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

  async function fetchTile(from, to, px) {
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
  function want() {
    if (waiting || size.w === 0) return;
    const near = tiles.find(suits);
    if (near && (near.from <= view.from - span() * 0.15 || near.from <= book.from) &&
        (near.to >= view.to + span() * 0.15 || near.to >= book.to)) return;
    const margin = span() / 2;
    const from = Math.max(view.from - margin, book.from - span()), to = Math.min(view.to + margin, book.to + span());
    waiting = fetchTile(from, to, (plotWidth() * (to - from)) / span())
      .then((tile) => {
        tiles.push(tile);
        if (tiles.length > 24) tiles.shift();
        counters.tiles = tiles.length;
        root.classList.remove("failed");
        waiting = null;
        redraw();
        want();
      })
      .catch(() => {
        counters.failed += 1;
        root.classList.add("failed");
        setTimeout(() => { waiting = null; want(); }, 2000);
      });
  }

  // ---- drawing -----------------------------------------------------------------------------------------------

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

  const X = (t) => size.left + ((t - view.from) / span()) * plotWidth();
  const T = (x) => view.from + ((x - size.left) / plotWidth()) * span();
  // By ratio, as on every picture here: lows get as much room as highs.
  const Y = (v) => {
    const share = Math.log(Math.max(v, book.bottom * 0.5) / book.bottom) / Math.log(book.top / book.bottom);
    return size.plotBottom - Math.max(-0.01, Math.min(1.02, share)) * (size.plotBottom - size.plotTop);
  };

  // Edges between the five ranges, as y from the top: very high | high | in range | low | very low.
  const edges = () => [Y(book.edges[3]), Y(book.edges[2]), Y(book.edges[1]), Y(book.edges[0])];
  const RANGE_COLOURS = ["above2", "above1", "within", "below1", "below2"];

  function readColours() {
    const style = getComputedStyle(root);
    const of = (name) => style.getPropertyValue(name).trim();
    colour = {
      paper: of("--sheet"), ink: of("--ink"), soft: of("--ink-soft"), rule: of("--rule"), strong: of("--rule-strong"),
      night: of("--night"), slate: of("--slate"), slatePale: of("--slate-pale"), within: of("--trace"),
      above1: of("--ochre"), above2: of("--ochre-deep"), abovePale: of("--ochre-pale"),
      below1: of("--indigo"), below2: of("--indigo-deep"), belowPale: of("--indigo-pale"),
      belowText: of("--indigo-text"), aboveText: of("--ochre-text"),
    };
    hatch = {
      above2: stripes(colour.above2, 5, false), below2: stripes(colour.below2, 5, true),
      artefact: stripes(colour.strong, 9, false),
    };
  }

  // Strokes that rise, or fall, on nothing: above range rising, below range falling, as on every picture here.
  function stripes(stroke, side, falling) {
    const tile = document.createElement("canvas");
    const dpr = size.dpr;
    tile.width = tile.height = side * dpr;
    const c = tile.getContext("2d");
    c.scale(dpr, dpr);
    c.strokeStyle = stroke;
    c.lineWidth = side < 7 ? 1.3 : 1;
    c.beginPath();
    for (const shift of [-side, 0, side]) {
      c.moveTo(shift - 1, falling ? -1 : side + 1);
      c.lineTo(shift + side + 1, falling ? side + 1 : -1);
    }
    c.stroke();
    const pattern = ink.createPattern(tile, "repeat");
    pattern.setTransform(new DOMMatrix().scale(1 / dpr));
    return pattern;
  }

  const font = (px, weight = "") => { ink.font = `${weight} ${px}px ${FONT}`; };
  const crisp = (v) => (Math.round(v * size.dpr) + 0.5) / size.dpr;

  function line(x0, y0, x1, y1, stroke, dash) {
    ink.strokeStyle = stroke;
    ink.lineWidth = 1;
    ink.setLineDash(dash || []);
    ink.beginPath();
    ink.moveTo(x0, y0);
    ink.lineTo(x1, y1);
    ink.stroke();
    if (dash) ink.setLineDash([]);
  }

  // Text with the paper behind it, so that it is legible on the trace.
  function text(string, x, y, fill, align = "left", halo = false) {
    ink.textAlign = align;
    if (halo) {
      ink.strokeStyle = colour.paper;
      ink.lineWidth = 3;
      ink.lineJoin = "round";
      ink.strokeText(string, x, y);
    }
    ink.fillStyle = fill;
    ink.fillText(string, x, y);
  }

  function draw() {
    const { w, h, dpr } = size;
    if (w === 0) return;
    ink.setTransform(dpr, 0, 0, dpr, 0, 0);
    ink.clearRect(0, 0, w, h);
    const tile = best();
    if (!tile) return;
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
    ink.restore();
    scale();
    axis(tile);
    strip();
    point(tile);
  }

  function nights(tile) {
    ink.fillStyle = colour.night;
    for (const [from, to] of tile.nights) {
      const x0 = X(from), x1 = X(to);
      if (x1 < size.left || x0 > size.w || x1 - x0 < 1.5) continue;
      ink.globalAlpha = Math.min(1, (x1 - x0 - 1.5) / 5);
      ink.fillRect(x0, size.plotTop - TOP, x1 - x0, size.axisTop - size.plotTop + TOP);
    }
    ink.globalAlpha = 1;
  }

  function grid(tile) {
    for (const [at] of tile.ticks.major) {
      const x = crisp(X(at));
      if (x > size.left) line(x, 0, x, size.axisTop + AXIS - 6, colour.rule);
    }
    for (const [v, , weight] of book.lines) {
      const y = crisp(Y(v));
      line(size.left, y, size.w, y, weight > 1 ? colour.strong : colour.rule, weight > 1 ? [1, 3] : [1, 5]);
    }
  }

  function artefacts(tile) {
    for (const event of tile.events) {
      if (event.lane !== "artefact") continue;
      const x0 = X(event.at), x1 = Math.max(X(event.until), x0 + 2);
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

  // First index whose instant is not before t.
  function lower(column, t) {
    let from = 0, to = column.length;
    while (from < to) {
      const mid = (from + to) >> 1;
      if (column[mid] < t) from = mid + 1; else to = mid;
    }
    return from;
  }

  const seen = (tile, series) => {
    const step = series.raw ? 0 : tile.step;
    return [Math.max(0, lower(series.at, view.from - step) - 1), Math.min(series.n, lower(series.at, view.to) + 1)];
  };

  function trace(tile, series, alpha) {
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
  function aside(series, alpha) {
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
  function spreads(tile, alpha) {
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

  const snap = (v) => Math.round(v * size.dpr) / size.dpr;

  // ---- what was written down ------------------------------------------------------------------------------------

  const laneTop = (lane) => size.lanesTop + book.lanes.findIndex((l) => l.key === lane) * LANE;

  function lanes(tile) {
    font(11);
    ink.textBaseline = "middle";
    const free = {};
    for (const event of tile.events) {
      if (event.lane === "artefact" || event.lane === "check") continue;
      const top = laneTop(event.lane);
      if (top < size.lanesTop) continue;
      const x0 = X(event.at), x1 = event.until === undefined ? x0 : X(event.until);
      if (x1 < size.left - 80 || x0 > size.w + 4) continue;
      const end = mark(event, x0, x1, top, tile.most[event.lane]);
      const told = event.kind === "bar" || event.lane === "sensor" || event.lane === "note" || secondsAPixel() < 320;
      if (event.label && told && (event.kind === "bar" || x0 >= size.left - 1) && x0 > (free[event.lane] || -Infinity)) {
        const start = Math.max(end + 4, size.left + 4), wide = ink.measureText(event.label).width;
        const room = event.room === undefined ? Infinity : X(event.room) - start;
        const inside = event.kind === "bar" ? x1 - Math.max(x0, size.left) > wide + 10 : room > wide + 6;
        if (inside) {
          const at = event.kind === "bar" ? Math.max(x0, size.left) + 6 : start;
          text(event.label, at, top + LANE / 2 + 0.5, event.kind === "bar" ? colour.ink : colour.soft);
          free[event.lane] = event.kind === "bar" ? x1 : at + wide + 4;
        }
      }
    }
    ink.textBaseline = "alphabetic";
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
      ink.fillStyle = event.second ? colour.slate : colour.slatePale;
      ink.fillRect(left, upper, right - left, tall);
      // Where it begins and ends, unless that is out of view.
      ink.fillStyle = colour.strong;
      if (x0 >= size.left - 4) ink.fillRect(left, upper - 1, 1, tall + 2);
      if (x1 <= size.w + 4 && right - left > 3) ink.fillRect(right - 1, upper - 1, 1, tall + 2);
      return right;
    }
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

  // Blood checks at their value on the scale of the readings: rings filled with paper, laboratory values square. Where
  // days are narrow they shrink to points, so that they do not cover the readings.
  function checks(tile) {
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

  // ---- scale, axis, strip ----------------------------------------------------------------------------------------

  function scale() {
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

  function axis(tile) {
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
  const stripX = (t) => ((t - book.from) / (book.to - book.from)) * size.w;
  const stripT = (x) => book.from + (x / size.w) * (book.to - book.from);

  function strip() {
    const top = size.stripTop + 6, tall = STRIP - 10;
    ink.fillStyle = colour.night;
    ink.fillRect(0, top, size.w, tall);
    const y = (v) => top + ((Y(v) - size.plotTop) / (size.plotBottom - size.plotTop)) * tall;
    if (whole && whole.spread) {
      for (const [from, to, , p5, p25, , p75, p95] of whole.spread.rows) {
        const x0 = stripX(from), wide = Math.max(stripX(to) - x0, 0.6);
        ink.fillStyle = colour.slatePale;
        ink.fillRect(x0, y(p95), wide, y(p5) - y(p95));
        ink.fillStyle = colour.slate;
        ink.fillRect(x0, y(p75), wide, Math.max(1, y(p25) - y(p75)));
      }
    } else if (whole) {
      const series = whole.series.find((s) => s.role === "primary");
      ink.fillStyle = colour.slate;
      for (let i = 0; series && i < series.n; i++) {
        ink.fillRect(stripX(series.at[i]), y(series.high[i]), 1, Math.max(1, y(series.low[i]) - y(series.high[i])));
      }
    }
    const x0 = Math.max(0, stripX(view.from)), x1 = Math.min(size.w, stripX(view.to));
    const left = Math.min(x0, size.w - 4), wide = Math.max(4, x1 - x0);
    ink.globalAlpha = 0.72;
    ink.fillStyle = colour.paper;
    ink.fillRect(0, top, left, tall);
    ink.fillRect(left + wide, top, size.w - left - wide, tall);
    ink.globalAlpha = 1;
    ink.strokeStyle = colour.ink;
    ink.lineWidth = 1.5;
    ink.strokeRect(left + 0.75, top + 0.75, Math.max(2, wide - 1.5), tall - 1.5);
  }

  // ---- reading out -----------------------------------------------------------------------------------------------

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
  const day = (at) => {
    const d = wall(at);
    return `${WEEKDAYS[d.getUTCDay()]} ${d.getUTCDate()} ${MONTHS[d.getUTCMonth()]} ${d.getUTCFullYear()}`;
  };
  const shown = (v) => (Math.round(v * 10 ** book.decimals + 1e-9) / 10 ** book.decimals).toFixed(book.decimals);

  const primary = (tile) => tile.series.find((series) => series.role === "primary");
  const isFar = (tile) => tile.spread && secondsAPixel() / 3600 > 1.5;

  // What stands at an instant: a stretch of days, a column or a reading.
  function found(tile, at) {
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

  function sentence(tile, at) {
    const it = found(tile, at);
    const beside = tile.events
      .filter((e) => e.until !== undefined && e.kind === "bar" ? e.at <= at && at <= e.until && e.lane !== "sensor"
        : Math.abs(X(e.at) - X(at)) < 7)
      .slice(0, 4)
      .map((e) => e.text);
    const tail = beside.length ? ` · ${beside.join(" · ")}` : "";
    if (!it) return `${day(at)}, ${hour(at)} · no reading${tail}`;
    if (it.kind === "stretch") {
      const [from, to, n, p5, p25, p50, p75, p95] = it.row;
      const name = tile.spread.kind === "day" ? day(from)
        : tile.spread.kind === "week" ? `week of ${day(from)}` : `${MONTHS[wall(from + 86400).getUTCMonth()]} ${wall(from + 86400).getUTCFullYear()}`;
      return `${name} · ${n.toLocaleString("en")} readings · median ${shown(p50)}, half between ${shown(p25)} and ${shown(p75)}, `
        + `nine in ten between ${shown(p5)} and ${shown(p95)} ${book.unit}${to ? tail : ""}`;
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

  function point(tile) {
    if (cursor === null) return;
    const it = found(tile, cursor), at = it ? it.at : cursor, x = crisp(X(at));
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
    if (cursor === null || !tile) words.textContent = words.dataset.idle;
    else words.textContent = sentence(tile, cursor);
    redraw();
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
    want();
    if (cursor !== null) read(false);
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
    if (!finger) {
      if (event.pointerType !== "touch") {
        cursor = at.x >= size.left && at.y < size.stripTop ? T(at.x) : null;
        canvas.style.cursor = at.y > size.stripTop ? "ew-resize" : "";
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
    const finger = fingers.get(event.pointerId);
    if (!finger) return;
    fingers.delete(event.pointerId);
    canvas.classList.remove("moving");
    if (fingers.size) return grip();
    if (event.type === "pointerup" && held && !held.moved) {
      cursor = finger.x >= size.left ? T(finger.x) : null;
      read(event.pointerType === "touch");
    }
  }
  canvas.addEventListener("pointerup", lift);
  canvas.addEventListener("pointercancel", lift);
  canvas.addEventListener("pointerleave", (event) => {
    if (event.pointerType === "touch" || fingers.size) return;
    cursor = null;
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
    if (cursor === null || cursor < view.from || cursor > view.to) cursor = (view.from + view.to) / 2;
    else if (isFar(tile)) {
      const rows = tile.spread.rows;
      const next = direction > 0 ? rows.find(([from]) => from > cursor) : rows.findLast(([, to]) => to <= cursor);
      if (next) cursor = (next[0] + next[1]) / 2;
    } else {
      const series = primary(tile);
      if (!series || !series.n) return;
      const half = series.raw ? 0 : tile.step / 2;
      const i = direction > 0 ? lower(series.at, cursor - half + 0.5) : lower(series.at, cursor - half - 0.5) - 1;
      cursor = series.at[Math.max(0, Math.min(series.n - 1, i))] + half;
    }
    if (cursor < view.from || cursor > view.to) show(cursor - span() / 2, cursor + span() / 2);
    read(true);
  }

  const keys = {
    ArrowLeft: (event) => (event.shiftKey ? pan(-span() / 4) : step(-1)),
    ArrowRight: (event) => (event.shiftKey ? pan(span() / 4) : step(1)),
    PageUp: () => pan(-span()),
    PageDown: () => pan(span()),
    Home: () => { show(book.from, book.from + span()); cursor = null; read(false); },
    End: () => { show(book.to - span(), book.to); cursor = null; read(false); },
    Escape: () => { cursor = null; read(false); },
  };
  keys["+"] = keys["="] = () => zoom(0.5, focus());
  keys["-"] = keys["_"] = () => zoom(2, focus());
  const focus = () => (cursor !== null && cursor > view.from && cursor < view.to ? cursor : (view.from + view.to) / 2);

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
    size = {
      w, h, dpr, stripTop, axisTop, lanesTop,
      left: w < 620 ? 0 : 76, plotTop: TOP, plotBottom: lanesTop - 10,
    };
    readColours();
    redraw();
    want();
  }

  const dark = matchMedia("(prefers-color-scheme: dark)");
  dark.addEventListener("change", () => { readColours(); redraw(); });

  root.classList.add("live");
  named();
  new ResizeObserver(resize).observe(canvas);
  resize();
  fetchTile(book.from, book.to, Math.max(300, size.w)).then((tile) => { whole = tile; redraw(); }).catch(() => {});

  window.interstice = Object.assign(window.interstice || {}, {
    timeline: {
      counters,
      view: () => ({ ...view }),
      cursor: () => cursor,
      ready: () => Boolean(tiles.find(suits)) && !waiting && Boolean(whole) && !due,
      x: X,
    },
  });
})();
