// Everything written over the picture: heights, north, names, loads, the least gap, the tape.

import { widthOf } from "./labels.js";
import { axes, looking, pixel } from "./standpoint.js";
import { el, FAINT, INK, LIMIT, line, MARK, OTHER, px, text } from "./svg.js";
import { length, scaleStep } from "./units.js";

const HALO = { "paint-order": "stroke", stroke: "#fff", "stroke-width": "3.5", "stroke-linejoin": "round" };
const MOST_ARROW = 64; // [px]
export const GAP_CLASSES = [
  [0.02, "#5c1049", "under 20 mm"], [0.05, "#a8346f", "20 to 50 mm"], [0.1, "#d77f6b", "50 to 100 mm"],
  [0.2, "#e3bd84", "100 to 200 mm"], [0.5, "#cbd8de", "200 to 500 mm"], [Infinity, "#eef0ee", "500 mm and more"],
];

export const UNMEASURED = "#dedcd6";

/** Colour of a gap: darker is nearer; lightness alone tells the classes apart.
 * @param {number} metres @returns {number[]} */
export function gapColour(metres) {
  const [, colour] = /** @type {[number, string, string]} */ (
    GAP_CLASSES.find(([limit]) => metres < /** @type {number} */ (limit)) ?? GAP_CLASSES[0]);
  return bytesOf(colour);
}

/** @param {string} colour "#rrggbb" @returns {number[]} */
export function bytesOf(colour) {
  return [1, 3, 5].map((k) => parseInt(colour.slice(k, k + 2), 16));
}

/** @typedef {import("./standpoint.js").Standpoint} Standpoint */

/**
 * What is written over: seen from where, how large [px], and the room that is left.
 * @typedef {{at: Standpoint, width: number, height: number, size: number,
 *   unit: import("./units.js").Unit, places: import("./labels.js").Places}} Sheet
 */

const SCALE_WIDE = 3.2; // room of the height scale [letters]

/** Heights up the left edge, of the plane through the focus. @param {Sheet} sheet */
export function heightScale({ at, height, size, unit, places }) {
  if (at.eye || !(Math.cos(at.rise) > 0.5)) return "";
  const perMetre = (height / at.span) * Math.cos(at.rise);
  const { step, write } = scaleStep((2.6 * size) / perMetre, unit);
  const x = SCALE_WIDE * size;
  places.take(0, 0, x + 1, height);
  places.from = x + 4;
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
 * @param {Sheet} sheet */
export function northMark({ at, width, height, size, places }) {
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
  const reach = radius + 1.2 * size;
  places.take(x - reach, y - reach, width, height);
  places.take(width - 8 - size * widthOf(words), height - 1.5 * size, width, height);
  return parts.join("");
}

/** Names and heels of the sections, at the right of the tower, and how deep each is buried.
 * @param {Sheet} sheet @param {{name: string, length: number, heel: number, state: string,
 *   half: number}[]} sections @param {number[]} plumb */
export function sectionMarks(sheet, sections, plumb) {
  const { at, width, height, size, unit, places } = sheet;
  if (at.eye || at.rise > 0.5 || at.rise < -0.5) return "";
  const parts = [];
  const perMetre = height / at.span;
  for (const { name, heel, state, half } of [...sections].sort((a, b) => b.heel - a.heel)) {
    const foot = pixel(at, [plumb[0], plumb[1], heel], width, height);
    if (!foot || foot[1] < 0 || foot[1] > height) continue;
    const edge = foot[0] + 1.25 * half * perMetre;
    const title = `${name}, heel ${length(heel, unit)}`;
    const wide = size * Math.max(widthOf(title), 0.9 * widthOf(state));
    const box = places.put(wide, 2.4 * size, foot[1] - 1.05 * size, [{ left: edge + 14, cost: 0 }]);
    const y = box.top + 1.05 * size;
    const [from, x] = [foot[0] + 0.3 * half * perMetre, box.left];
    const turn = Math.min(edge, x - 12);
    parts.push(line([[Math.min(from, turn), foot[1]], [turn, foot[1]], [x - 3, y]], { stroke: INK, "stroke-width": 1, "stroke-dasharray": "4 2" }));
    parts.push(text(x, y - 0.1 * size, title, { "font-weight": "bold", ...HALO }));
    parts.push(text(x, y + size, state, { fill: FAINT, ...HALO }));
  }
  return parts.join("");
}

/** @param {Sheet} sheet @param {number[]} point [px] */
const inside = ({ width, height }, [x, y]) => x >= 0 && x <= width && y >= 0 && y <= height;

/** Forces as arrows: what the lines carry at the lift points, lines of one point told together,
 * and what presses sideways. All arrows are drawn before any word is placed, so that no word
 * lies on one; `said` is what `forceWords` is to write.
 * @param {Sheet} sheet @param {any} loads @param {{at: number[], force: number[], name: string}[]} sideways */
export function forceArrows(sheet, loads, sideways) {
  /** @type {Said[]} */
  const said = [];
  const drawn = liftArrows(sheet, loads, said) + sideArrows(sheet, sideways, said);
  return { drawn, said };
}

/** What the arrows come to, beside their heads. @param {Sheet} sheet @param {Said[]} said */
export function forceWords(sheet, said) {
  // From the edges inward: what stands in the middle can go either way.
  const middle = sheet.width / 2;
  return [...said].sort((p, q) => Math.abs(q.x - middle) - Math.abs(p.x - middle))
    .map((each) => beside(sheet, each)).join("");
}

/** @typedef {{x: number, y: number, words: string, colour: string, right: boolean}} Said words at
 *   an end of an arrow [px], and the side that is wanted */

/** Words beside an arrow, and a line to them where they had to go elsewhere.
 * @param {Sheet} sheet @param {Said} said */
function beside({ size, places }, { x, y, words, colour, right }) {
  const wide = size * widthOf(words);
  const [after, before] = [{ left: x + 6, cost: right ? 0 : 1.5 * size }, { left: x - 6 - wide, cost: right ? 1.5 * size : 0 }];
  const top = y - 0.1 * size;
  const box = places.put(wide, 1.2 * size, top, right ? [after, before] : [before, after]);
  const later = box.left + wide / 2 > x;
  const near = later ? box.left : box.right;
  const parts = [];
  if (Math.abs(box.top - top) > 0.7 * size || Math.abs(near - x) > 8) {
    const way = [[x, y + 2], [near, box.top + 0.6 * size]];
    parts.push(line(way, { stroke: "#fff", "stroke-width": 3 }), line(way, { stroke: colour, "stroke-width": 1 }));
  }
  parts.push(text(near, box.top + size, words,
    { fill: colour, "font-weight": "bold", "text-anchor": later ? "start" : "end", ...HALO }));
  return parts.join("");
}

/** @param {Sheet} sheet @param {any} loads @param {Said[]} said is added to */
function liftArrows(sheet, loads, said) {
  const { at, width, height, places } = sheet;
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
  // From above an arrow upward is seen on its head.
  const flat = Math.abs(Math.cos(at.rise)) < 0.35;
  for (const { at: place, force } of points.values()) {
    const foot = pixel(at, place, width, height);
    if (!foot || !inside(sheet, foot)) continue;
    const [x, y] = foot;
    const long = flat ? 6 : Math.max(12, (MOST_ARROW * force) / most);
    if (flat) {
      parts.push(el("circle", { cx: x, cy: y, r: 6, fill: "#fff", stroke: OTHER, "stroke-width": 2 }),
        el("circle", { cx: x, cy: y, r: 2, fill: OTHER }));
      places.take(x - 7, y - 7, x + 7, y + 7);
    } else {
      const d = `M${px(x)} ${px(y)}V${px(y - long + 7)}M${px(x - 4)} ${px(y - long + 8)}L${px(x)} ${px(y - long)}L${px(x + 4)} ${px(y - long + 8)}z`;
      parts.push(el("path", { d, stroke: "#fff", "stroke-width": 5, fill: "#fff", "stroke-linejoin": "round" }));
      parts.push(el("path", { d, stroke: OTHER, "stroke-width": 2, fill: OTHER }));
      places.take(x - 4, y - long, x + 4, y);
    }
    said.push({ x, y: y - long, words: `${(force / 1000).toFixed(1)} kN`, colour: OTHER, right: x > width / 2 });
  }
  return parts.join("");
}

/** @param {Sheet} sheet @param {{at: number[], force: number[], name: string}[]} arrows
 * @param {Said[]} said is added to */
function sideArrows(sheet, arrows, said) {
  const { at, width, height, places, size } = sheet;
  const most = Math.max(1, ...arrows.map(({ force }) => Math.hypot(...force)));
  const metres = (MOST_ARROW * at.span) / height / most;
  /** @type {Map<string, {n: number, hardest: number, said: Said}>} */
  const named = new Map();
  const drawn = arrows.map(({ at: place, force, name }) => {
    // Towards the place, so that the head is where it pushes.
    const [p, q] = [pixel(at, place.map((v, k) => v - metres * force[k]), width, height), pixel(at, place, width, height)];
    if (!p || !q || !inside(sheet, q)) return "";
    const [dx, dy] = [q[0] - p[0], q[1] - p[1]];
    const long = Math.hypot(dx, dy) || 1;
    const [a, b] = [dx / long, dy / long];
    const head = [[q[0], q[1]], [q[0] - 8 * a - 4 * b, q[1] - 8 * b + 4 * a], [q[0] - 8 * a + 4 * b, q[1] - 8 * b - 4 * a]];
    places.take(Math.min(p[0], q[0]) - 3, Math.min(p[1], q[1]) - 4, Math.max(p[0], q[0]) + 3, Math.max(p[1], q[1]) + 4);
    // Many of one name are told together, at the hardest.
    const hard = Math.hypot(...force);
    const known = named.get(name);
    const n = (known?.n ?? 0) + 1;
    if (known && known.hardest >= hard) known.n = n;
    else named.set(name, { n, hardest: hard, said: { x: p[0], y: p[1] - 0.5 * size, words: name, colour: LIMIT, right: p[0] > q[0] } });
    return line([p, q], { stroke: "#fff", "stroke-width": 5 }) + line([p, q], { stroke: LIMIT, "stroke-width": 2.2 })
      + el("polygon", { points: head.map(([x, y]) => `${px(x)},${px(y)}`).join(" "), fill: LIMIT, stroke: "#fff", "stroke-width": 0.6 });
  }).join("");
  for (const { n, hardest, said: one } of named.values()) {
    said.push({ ...one, words: `${one.words}${n > 1 ? `, hardest of ${n}:` : ""} ${(hardest / 1000).toFixed(1)} kN` });
  }
  return drawn;
}

/** A distance between two points: a line with ends, and words above it.
 * @param {Pick<Sheet, "at" | "width" | "height" | "size" | "places">} sheet
 * @param {number[]} a @param {number[]} b @param {string} words @param {string} colour */
export function distanceLine({ at, width, height, size, places }, a, b, words, colour) {
  const [p, q] = [pixel(at, a, width, height), pixel(at, b, width, height)];
  if (!p || !q) return "";
  const parts = [line([p, q], { stroke: "#fff", "stroke-width": 5, "stroke-linecap": "round" }),
    line([p, q], { stroke: colour, "stroke-width": 2.2, "stroke-linecap": "round" })];
  for (const [x, y] of [p, q]) parts.push(el("circle", { cx: x, cy: y, r: 3.4, fill: colour, stroke: "#fff", "stroke-width": 1.3 }));
  const [low, high] = [Math.min(p[1], q[1]), Math.max(p[1], q[1])];
  places.take(Math.min(p[0], q[0]) - 4, low - 4, Math.max(p[0], q[0]) + 4, high + 4);
  const wide = size * widthOf(words);
  const box = places.put(wide, 1.2 * size, low - 1.5 * size - 4, [{ left: (p[0] + q[0] - wide) / 2, cost: 0 }]);
  parts.push(text(box.left + wide / 2, box.top + size, words, { "text-anchor": "middle", fill: colour, "font-weight": "bold", ...HALO }));
  return parts.join("");
}

/** A ring at the least gap. @param {Sheet} sheet @param {number[]} place */
export function ring({ at, width, height, places }, place) {
  const p = pixel(at, place, width, height);
  if (!p) return "";
  places.take(p[0] - 9, p[1] - 9, p[0] + 9, p[1] + 9);
  return el("circle", { cx: p[0], cy: p[1], r: 8, fill: "none", stroke: "#fff", "stroke-width": 4 })
    + el("circle", { cx: p[0], cy: p[1], r: 8, fill: "none", stroke: MARK, "stroke-width": 2 });
}

/** Ring on the ground round all on which something may be dropped.
 * @param {Sheet} sheet
 * @param {{x: number, y: number, z: number, radius: number, beside: number} | null} circle */
export function droppedRing(sheet, circle) {
  if (!circle) return "";
  const { at, width, height } = sheet;
  const points = [];
  for (let n = 0; n <= 64; n++) {
    const turn = (n * Math.PI) / 32;
    const p = pixel(at, [circle.x + circle.radius * Math.cos(turn), circle.y + circle.radius * Math.sin(turn), circle.z], width, height);
    if (!p) return "";
    points.push(p);
  }
  return line(points, { stroke: "#fff", "stroke-width": 4, "stroke-opacity": 0.7 })
    + line(points, { stroke: MARK, "stroke-width": 1.6, "stroke-dasharray": "9 4" }) + ringWords(sheet, circle, points);
}

/** How wide the ring is, below it where there is room; else its button tells.
 * @param {Sheet} sheet @param {{beside: number}} circle @param {number[][]} points */
function ringWords(sheet, circle, points) {
  const { size, unit, places, width } = sheet;
  const seen = points.filter((p) => inside(sheet, p));
  if (!seen.length) return "";
  const words = `keep clear, ${length(circle.beside, unit)} beside the load`;
  const lowest = seen.reduce((a, b) => (b[1] > a[1] ? b : a));
  const wide = size * widthOf(words);
  const top = lowest[1] + 4;
  const [least, most] = [Math.min(...seen.map((p) => p[0])), Math.max(...seen.map((p) => p[0]))];
  // Seen from its own height the ring is a line, which words must not lie on.
  if (lowest[1] - Math.min(...points.map((p) => p[1])) < 2 * size) places.take(least, lowest[1] - 3, most, lowest[1] + 3);
  for (const left of [lowest[0] - wide / 2, most - wide, least, most]) {
    if (left < places.from || left + wide > width) continue;
    const found = places.free(left, top, wide, 1.2 * size);
    if (found === null || Math.abs(found - top) > 2 * size) continue;
    places.take(left, found, left + wide, found + 1.2 * size);
    return text(left, found + size, words, { fill: MARK, ...HALO });
  }
  return "";
}

/** Name of the chosen member, and a line to its middle. @param {Sheet} sheet
 * @param {number[]} place @param {string} words */
export function memberMark(sheet, place, words) {
  const p = pixel(sheet.at, place, sheet.width, sheet.height);
  if (!p || !inside(sheet, p)) return "";
  const { size, places } = sheet;
  places.take(p[0] - 4, p[1] - 4, p[0] + 4, p[1] + 4);
  const wide = size * widthOf(words) + 8;
  const box = places.put(wide, 1.5 * size, p[1] - 3 * size, [{ left: p[0] + 2 * size, cost: 0 }, { left: p[0] - 2 * size - wide, cost: 6 }]);
  const near = box.left > p[0] ? box.left : Math.min(Math.max(p[0], box.left), box.right);
  return line([p, [near, box.top + 0.75 * size]], { stroke: "#fff", "stroke-width": 3 })
    + line([p, [near, box.top + 0.75 * size]], { stroke: INK, "stroke-width": 1.2 })
    + el("circle", { cx: p[0], cy: p[1], r: 3, fill: INK, stroke: "#fff", "stroke-width": 1.2 })
    + el("rect", { x: box.left, y: box.top, width: wide, height: 1.5 * size, fill: "#f4c430", stroke: INK, "stroke-width": 0.8 })
    + text(box.left + 4, box.top + 1.1 * size, words, { "font-weight": "bold" });
}

/** Where the chosen finding is. @param {Sheet} sheet @param {number[]} place */
export function findingMark({ at, width, height, places }, place) {
  const p = pixel(at, place, width, height);
  if (!p) return "";
  places.take(p[0] - 8, p[1] - 30, p[0] + 8, p[1] - 15);
  return `<path d="M${px(p[0])} ${px(p[1] - 16)}l7 -13h-14z" fill="${MARK}" stroke="#fff" stroke-width="1.5"/>`;
}

/** What the colours of gaps mean. @param {Sheet} sheet @param {string[]} uncoloured two lines
 * on what has no colour */
export function gapLegend({ width, height, size: wanted, places }, [what, why]) {
  const parts = [];
  // It must not hide the tower, however large the letters are.
  const size = Math.min(wanted, height / 56, width / 46);
  const small = { "font-size": size.toFixed(1) };
  const top = height - (GAP_CLASSES.length + 3.2) * 1.3 * size;
  const [left, wide, high] = [3.9 * size, 18 * size, (GAP_CLASSES.length + 3.1) * 1.3 * size];
  places.take(left, top - 1.2 * size, left + wide, top - 1.2 * size + high);
  parts.push(el("rect", { x: left, y: top - 1.2 * size, width: wide, height: high, fill: "#fffffff0", stroke: "#dedcd4" }));
  parts.push(text(4.5 * size, top, "at its nearest in this haul", { "font-weight": "bold", ...small }));
  GAP_CLASSES.forEach(([, colour, words], n) => {
    const y = top + (n + 1) * 1.3 * size;
    parts.push(el("rect", { x: 4.5 * size, y: y - 0.8 * size, width: 1.6 * size, height: 0.9 * size, fill: String(colour), stroke: INK, "stroke-width": 0.5 }));
    parts.push(text(6.6 * size, y, String(words), small));
  });
  const last = top + (GAP_CLASSES.length + 1) * 1.3 * size;
  parts.push(el("rect", { x: 4.5 * size, y: last - 0.8 * size, width: 1.6 * size, height: 0.9 * size, fill: UNMEASURED, stroke: INK, "stroke-width": 0.5, "stroke-dasharray": "2 2" }));
  parts.push(text(6.6 * size, last, what, small));
  parts.push(text(6.6 * size, last + size, why, { fill: FAINT, ...small }));
  return parts.join("");
}
