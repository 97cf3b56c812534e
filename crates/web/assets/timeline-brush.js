// Colours, hatches, lines and letters. Every colour comes from the style sheet, so that light, dark and print are its
// matter.

import { canvas, root, size } from "./timeline-scene.js";

export const ink = canvas.getContext("2d");
export const colour = {}, hatch = {};

const FONT = 'system-ui, -apple-system, "Segoe UI", Roboto, "Helvetica Neue", Arial, sans-serif';

// From the top, as the places of `edges`.
export const RANGE_COLOURS = ["above2", "above1", "within", "below1", "below2"];

export function readColours() {
  const style = getComputedStyle(root);
  const of = (name) => style.getPropertyValue(name).trim();
  Object.assign(colour, {
    paper: of("--sheet"), ink: of("--ink"), soft: of("--ink-soft"), rule: of("--rule"), strong: of("--rule-strong"),
    night: of("--night"), slate: of("--slate"), slatePale: of("--slate-pale"), within: of("--trace"),
    above1: of("--ochre"), above2: of("--ochre-deep"), abovePale: of("--ochre-pale"),
    below1: of("--indigo"), below2: of("--indigo-deep"), belowPale: of("--indigo-pale"),
    belowText: of("--indigo-text"), aboveText: of("--ochre-text"),
  });
  Object.assign(hatch, {
    above2: stripes(colour.above2, 5, false), below2: stripes(colour.below2, 5, true),
    artefact: stripes(colour.strong, 9, false),
  });
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

export const font = (px, weight = "") => { ink.font = `${weight} ${px}px ${FONT}`; };
export const crisp = (v) => (Math.round(v * size.dpr) + 0.5) / size.dpr;

export function line(x0, y0, x1, y1, stroke, dash) {
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
export function text(string, x, y, fill, align = "left", halo = false) {
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

export const snap = (v) => Math.round(v * size.dpr) / size.dpr;
