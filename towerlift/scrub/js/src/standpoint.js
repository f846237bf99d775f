// Where one looks from. Parallel views are those of the Python pictures, so that both can be
// measured by the same rule; a person's view is in perspective.

import { held } from "./story.js";

/**
 * @typedef {{focus: number[], span: number, azimuth: number, rise: number,
 *   cut: number | null, eye?: number[] | null}} Standpoint
 */

export const USUAL_AZIMUTH = 0.87 * Math.PI;
export const FARTHEST = 300; // half the depth of what can be seen [m]
const UNCUT = 1; // how near the viewer is seen where nothing is cut [m]
export const DEPTH = 2 * FARTHEST - UNCUT; // what is seen in depth where nothing is cut [m]
export const EYE_NEAREST = 0.15; // nearer than this a person sees nothing [m]
const POINTS = ["north", "north-east", "east", "south-east", "south", "south-west", "west",
  "north-west"];

/** Unit vectors right, up and towards the viewer. @param {Standpoint} at */
export function axes({ azimuth, rise }) {
  const level = Math.cos(rise);
  const towards = [level * Math.sin(azimuth), level * Math.cos(azimuth), Math.sin(rise)];
  const right = [-Math.cos(azimuth), Math.sin(azimuth), 0];
  const up = [
    towards[1] * right[2] - towards[2] * right[1],
    towards[2] * right[0] - towards[0] * right[2],
    towards[0] * right[1] - towards[1] * right[0],
  ];
  return { right, up, towards };
}

/** Direction of sight in words. @param {Standpoint} at */
export function looking(at) {
  const turns = Math.round((at.azimuth + Math.PI) / (Math.PI / 4));
  return POINTS[((turns % 8) + 8) % 8];
}

/** @param {number[]} a @param {number[]} b */
export const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];

/**
 * Matrices of a view, 16 numbers each, column by column.
 * @param {Standpoint} at @param {number} width @param {number} height
 */
export function matrices(at, width, height) {
  const { right, up, towards } = axes(at);
  const eye = at.eye ?? at.focus.map((value, k) => value + FARTHEST * towards[k]);
  const view = [
    right[0], up[0], towards[0], 0,
    right[1], up[1], towards[1], 0,
    right[2], up[2], towards[2], 0,
    -dot(right, eye), -dot(up, eye), -dot(towards, eye), 1,
  ];
  return { view, projection: at.eye ? perspective(at, width / height) : parallel(at, width / height) };
}

/** @param {Standpoint} at @param {number} aspect */
function parallel(at, aspect) {
  const near = at.cut === null ? UNCUT : FARTHEST - at.cut;
  const far = 2 * FARTHEST;
  const [x, y] = [2 / (at.span * aspect), 2 / at.span];
  return [x, 0, 0, 0, 0, y, 0, 0, 0, 0, -2 / (far - near), 0, 0, 0, -(far + near) / (far - near), 1];
}

/** For a person's eye, `span` is the height seen at the distance of the focus.
 * @param {Standpoint} at @param {number} aspect */
function perspective(at, aspect) {
  const [near, far] = [EYE_NEAREST, 400];
  const away = Math.hypot(...at.focus.map((value, k) => value - /** @type {number[]} */ (at.eye)[k]));
  const f = (2 * away) / at.span;
  return [f / aspect, 0, 0, 0, 0, f, 0, 0, 0, 0, -(far + near) / (far - near), -1,
    0, 0, (-2 * far * near) / (far - near), 0];
}

/** A person's view from an eye to a target. @param {number[]} eye @param {number[]} target
 * @returns {Standpoint} */
export function from(eye, target) {
  const way = eye.map((value, k) => value - target[k]);
  const away = Math.hypot(...way);
  return {
    focus: target,
    span: 1.15 * away,
    azimuth: Math.atan2(way[0], way[1]),
    rise: Math.asin(held(way[2] / away, -1, 1)),
    cut: null,
    eye,
  };
}

/**
 * Where a point comes to lie, to the right and down from the upper left corner [px].
 * @param {Standpoint} at @param {number[]} point @param {number} width @param {number} height
 * @returns {number[] | null} null behind a person's back
 */
export function pixel(at, point, width, height) {
  const { right, up, towards } = axes(at);
  if (!at.eye) {
    const away = point.map((value, k) => value - at.focus[k]);
    const scale = height / at.span;
    return [width / 2 + scale * dot(away, right), height / 2 - scale * dot(away, up)];
  }
  const away = point.map((value, k) => value - /** @type {number[]} */ (at.eye)[k]);
  const depth = -dot(away, towards);
  if (!(depth > EYE_NEAREST)) return null;
  const far = Math.hypot(...at.focus.map((value, k) => value - /** @type {number[]} */ (at.eye)[k]));
  const scale = (height * far) / (at.span * depth);
  return [width / 2 + scale * dot(away, right), height / 2 - scale * dot(away, up)];
}

/** The whole tower, heights true, fitted to a picture's size.
 * @param {{low: number[], high: number[]}} box @param {number} width @param {number} height
 * @returns {Standpoint} */
export function wholeTower({ low, high }, width, height) {
  const extent = high.map((value, k) => value - low[k]);
  const across = (1.7 * Math.hypot(extent[0], extent[1]) * height) / width;
  const span = Math.max(1.1 * extent[2], Math.min(across, 2 * extent[2]));
  const focus = low.map((value, k) => (value + high[k]) / 2);
  return { focus, span, azimuth: USUAL_AZIMUTH, rise: 0, cut: null };
}

const [NEAREST, WIDEST, GAP_SPANS] = [0.8, 1.6, 20]; // height of a closer view [m], [m], gaps

/** One place, cut open in front of it, nearly square to a gap there.
 * @param {number[]} place @param {number[] | null} along @param {number} [nearest] least height [m]
 * @returns {Standpoint} */
export function closeUp(place, along, nearest = NEAREST) {
  const gap = along ? Math.hypot(...along) : NaN;
  const span = along ? Math.min(WIDEST, Math.max(nearest, GAP_SPANS * gap)) : WIDEST;
  let level = along ? [along[0], along[1]] : [0, 0];
  if (!(Math.hypot(...level) > 1e-9)) level = [place[0], place[1]];
  if (!(Math.hypot(...level) > 1e-9)) {
    return { focus: place, span, azimuth: USUAL_AZIMUTH, rise: 0.2, cut: 0.5 };
  }
  const outward = Math.atan2(level[0], level[1]);
  return { focus: place, span, azimuth: outward + Math.PI / 2 + 0.45, rise: 0.22, cut: 0.05 };
}

/** The shaft from above at a height, north up.
 * @param {{low: number[], high: number[]}} box @param {number} height @returns {Standpoint} */
export function fromAbove({ low, high }, height) {
  const span = 1.25 * Math.max(high[0] - low[0], high[1] - low[1]);
  const focus = [(low[0] + high[0]) / 2, (low[1] + high[1]) / 2, height];
  return { focus, span, azimuth: Math.PI, rise: Math.PI / 2, cut: 0 };
}
