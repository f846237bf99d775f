// Everything written over the picture: heights, north, names, loads, the least gap, the tape.

import { axes, looking, pixel } from "./standpoint.js";
import { el, FAINT, INK, LIMIT, line, MARK, OTHER, px, text } from "./svg.js";
import { gap, length, scaleStep } from "./units.js";

const HALO = { "paint-order": "stroke", stroke: "#fff", "stroke-width": "3.5", "stroke-linejoin": "round" };
const MOST_ARROW = 64; // [px]
export const GAP_CLASSES = [
  [0.02, "#5c1049", "under 20 mm"], [0.05, "#a8346f", "20 to 50 mm"], [0.1, "#d77f6b", "50 to 100 mm"],
  [0.2, "#e3bd84", "100 to 200 mm"], [0.5, "#cbd8de", "200 to 500 mm"], [Infinity, "#eef0ee", "500 mm and more"],
];

/** Colour of a gap: darker is nearer; lightness alone tells the classes apart.
 * @param {number} metres @returns {number[]} */
export function gapColour(metres) {
  const [, colour] = /** @type {[number, string, string]} */ (
    GAP_CLASSES.find(([limit]) => metres < /** @type {number} */ (limit)) ?? GAP_CLASSES[0]);
  return [1, 3, 5].map((k) => parseInt(String(colour).slice(k, k + 2), 16));
}

/** @typedef {import("./standpoint.js").Standpoint} Standpoint */

/** Heights up the left edge, of the plane through the focus. @param {Standpoint} at
 * @param {number} width @param {number} height @param {number} size @param {import("./units.js").Unit} unit */
export function heightScale(at, width, height, size, unit) {
  if (at.eye || !(Math.cos(at.rise) > 0.5)) return "";
  const perMetre = (height / at.span) * Math.cos(at.rise);
  const { step, write } = scaleStep((2.6 * size) / perMetre, unit);
  const x = 3.2 * size;
  const parts = [line([[x, 0], [x, height]], { stroke: INK, "stroke-width": 1 })];
  const [low, high] = [at.focus[2] - height / 2 / perMetre, at.focus[2] + height / 2 / perMetre];
  for (let n = Math.ceil(low / step); n <= high / step; n++) {
    const y = height / 2 - (n * step - at.focus[2]) * perMetre;
    if (y < 2.2 * size || y > height - size) continue;
    parts.push(line([[x - 4, y], [x, y]], { stroke: INK }));
    parts.push(text(x - 6, y + 0.35 * size, write(n * step), { "text-anchor": "end", ...HALO }));
  }
  parts.push(text(4, 1.1 * size, `z, ${unit}`, HALO));
  return parts.join("");
}

/** The shaft in plan, turned so that the direction of sight is up the picture.
 * @param {Standpoint} at @param {number} width @param {number} height @param {number} size */
export function northMark(at, width, height, size) {
  const { right, up, towards } = axes(at);
  const radius = 1.15 * size;
  const [x, y] = [width - radius - 12, height - radius - 2.4 * size];
  const flat = Math.cos(at.rise) < 1e-9;
  let [a, b] = flat ? [right[1], -up[1]] : [right[1], towards[1]];
  const away = Math.hypot(a, b);
  [a, b] = away > 0 ? [a / away, b / away] : [0, -1];
  /** @param {number} along @param {number} side */
  const at_ = (along, side) => `${px(x + a * along - b * side)},${px(y + b * along + a * side)}`;
  const parts = [el("circle", { cx: x, cy: y, r: radius, fill: "#fff", stroke: INK })];
  for (const [side, fill] of [[4, INK], [-4, "#fff"]]) {
    const points = [at_(radius - 2, 0), at_(0, /** @type {number} */ (side)), at_(4 - radius, 0)].join(" ");
    parts.push(el("polygon", { points, fill, stroke: INK }));
  }
  parts.push(text(x + a * (radius + 0.6 * size), y + b * (radius + 0.6 * size) + 0.35 * size, "N", { "text-anchor": "middle", ...HALO }));
  const words = flat ? "plan, north up" : `looking ${looking(at)}`;
  parts.push(text(width - 6, height - 0.4 * size, words, { "text-anchor": "end", ...HALO }));
  return parts.join("");
}

/** Names and heels of the sections, at the right of the tower, and how deep each is buried.
 * @param {Standpoint} at @param {{name: string, length: number, heel: number, state: string,
 *   half: number}[]} sections @param {number[]} plumb
 * @param {number} width @param {number} height @param {number} size @param {import("./units.js").Unit} unit */
export function sectionMarks(at, sections, plumb, width, height, size, unit) {
  if (at.eye || at.rise > 0.5 || at.rise < -0.5) return "";
  const parts = [];
  /** @type {number[]} */
  const taken = [];
  for (const { name, heel, length: long, state, half } of [...sections].sort((a, b) => b.heel - a.heel)) {
    const foot = pixel(at, [plumb[0], plumb[1], heel], width, height);
    const head = pixel(at, [plumb[0], plumb[1], heel + long], width, height);
    if (!foot || !head) continue;
    const perMetre = height / at.span;
    const edge = foot[0] + 1.25 * half * perMetre;
    const title = `${name}, heel ${length(heel, unit)}`;
    const x = Math.min(edge + 14, width - 0.62 * size * Math.max(title.length, state.length) - 4);
    let y = foot[1];
    while (taken.some((other) => Math.abs(other - y) < 2.3 * size)) y -= 1;
    if (y < 2 * size || y > height - 3.2 * size) continue;
    taken.push(y);
    parts.push(line([[foot[0] + 0.3 * half * perMetre, foot[1]], [edge, foot[1]], [x - 3, y]], { stroke: INK, "stroke-width": 1, "stroke-dasharray": "4 2" }));
    parts.push(text(x, y - 0.1 * size, title, { "font-weight": "bold", ...HALO }));
    parts.push(text(x, y + size, state, { fill: FAINT, ...HALO }));
  }
  return parts.join("");
}

/** What the lines carry, as arrows at the lift points; lines of one point are told together.
 * @param {Standpoint} at @param {any} loads @param {number} width @param {number} height @param {number} size */
export function loadArrows(at, loads, width, height, size) {
  if (!loads) return "";
  /** @type {Map<string, {at: number[], force: number}>} */
  const points = new Map();
  for (const each of loads.lines) {
    if (each.tension === null) return "";
    const key = each.at.map((/** @type {number} */ v) => v.toFixed(1)).join();
    const point = points.get(key) ?? { at: each.at, force: 0 };
    point.force += each.tension;
    points.set(key, point);
  }
  const most = Math.max(...[...points.values()].map((point) => point.force));
  const parts = [];
  for (const { at: place, force } of points.values()) {
    const foot = pixel(at, place, width, height);
    if (!foot) continue;
    const long = Math.max(12, (MOST_ARROW * force) / most);
    const [x, y] = foot;
    const d = `M${px(x)} ${px(y)}V${px(y - long + 7)}M${px(x - 4)} ${px(y - long + 8)}L${px(x)} ${px(y - long)}L${px(x + 4)} ${px(y - long + 8)}z`;
    parts.push(el("path", { d, stroke: "#fff", "stroke-width": 5, fill: "#fff", "stroke-linejoin": "round" }));
    parts.push(el("path", { d, stroke: OTHER, "stroke-width": 2, fill: OTHER }));
    const right = x > width / 2;
    parts.push(text(x + (right ? 6 : -6), y - long + 0.9 * size, `${(force / 1000).toFixed(1)} kN`,
      { fill: OTHER, "font-weight": "bold", "text-anchor": right ? "start" : "end", ...HALO }));
  }
  return parts.join("");
}

/** Forces that a trial finds, at shoes and where wind blows. @param {Standpoint} at
 * @param {{at: number[], force: number[], name: string}[]} arrows
 * @param {number} width @param {number} height */
export function forceArrows(at, arrows, width, height) {
  const most = Math.max(1, ...arrows.map(({ force }) => Math.hypot(...force)));
  const metres = (MOST_ARROW * at.span) / height / most;
  return arrows.map(({ at: place, force, name }) => {
    // Towards the place, so that the head is where it pushes.
    const [p, q] = [pixel(at, place.map((v, k) => v - metres * force[k]), width, height), pixel(at, place, width, height)];
    if (!p || !q) return "";
    const [dx, dy] = [q[0] - p[0], q[1] - p[1]];
    const long = Math.hypot(dx, dy) || 1;
    const [a, b] = [dx / long, dy / long];
    const head = [[q[0], q[1]], [q[0] - 8 * a - 4 * b, q[1] - 8 * b + 4 * a], [q[0] - 8 * a + 4 * b, q[1] - 8 * b - 4 * a]];
    const shaft = line([p, q], { stroke: LIMIT, "stroke-width": 2.2 });
    return shaft + el("polygon", { points: head.map(([x, y]) => `${px(x)},${px(y)}`).join(" "), fill: LIMIT })
      + text(p[0], p[1] - 4, `${name} ${(Math.hypot(...force) / 1000).toFixed(1)} kN`, { fill: LIMIT, "font-weight": "bold", "text-anchor": "middle", ...HALO });
  }).join("");
}

/** A distance between two points: a line with ends, and words beside it.
 * @param {Standpoint} at @param {number[]} a @param {number[]} b @param {string} words
 * @param {number} width @param {number} height @param {string} colour */
export function distanceLine(at, a, b, words, width, height, colour) {
  const [p, q] = [pixel(at, a, width, height), pixel(at, b, width, height)];
  if (!p || !q) return "";
  const parts = [line([p, q], { stroke: "#fff", "stroke-width": 5, "stroke-linecap": "round" }),
    line([p, q], { stroke: colour, "stroke-width": 2.2, "stroke-linecap": "round" })];
  for (const [x, y] of [p, q]) parts.push(el("circle", { cx: x, cy: y, r: 3.4, fill: colour, stroke: "#fff", "stroke-width": 1.3 }));
  const [x, y] = [(p[0] + q[0]) / 2, (p[1] + q[1]) / 2];
  parts.push(text(x, y - 9, words, { "text-anchor": "middle", fill: colour, "font-weight": "bold", ...HALO }));
  return parts.join("");
}

/** A ring at the least gap. @param {Standpoint} at @param {number[]} place @param {number} width
 * @param {number} height */
export function ring(at, place, width, height) {
  const p = pixel(at, place, width, height);
  if (!p) return "";
  return el("circle", { cx: p[0], cy: p[1], r: 8, fill: "none", stroke: "#fff", "stroke-width": 4 })
    + el("circle", { cx: p[0], cy: p[1], r: 8, fill: "none", stroke: MARK, "stroke-width": 2 });
}

/** What the colours of gaps mean. @param {number} height @param {number} size */
export function gapLegend(height, size) {
  const parts = [];
  const top = height - (GAP_CLASSES.length + 2.4) * 1.3 * size;
  parts.push(el("rect", { x: 3.9 * size, y: top - 1.2 * size, width: 18 * size, height: (GAP_CLASSES.length + 2.2) * 1.3 * size, fill: "#fffffff0", stroke: "#dedcd4" }));
  parts.push(text(4.5 * size, top, "at its nearest in this haul", { "font-weight": "bold" }));
  GAP_CLASSES.forEach(([, colour, words], n) => {
    const y = top + (n + 1) * 1.3 * size;
    parts.push(el("rect", { x: 4.5 * size, y: y - 0.8 * size, width: 1.6 * size, height: 0.9 * size, fill: String(colour), stroke: INK, "stroke-width": 0.5 }));
    parts.push(text(6.6 * size, y, String(words)));
  });
  parts.push(text(4.5 * size, top + (GAP_CLASSES.length + 1) * 1.3 * size, "grey: never nearest of its pair", { fill: FAINT }));
  return parts.join("");
}

export { gap };
