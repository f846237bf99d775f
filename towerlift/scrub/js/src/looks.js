// Places to look from, by name.

import { USUAL_AZIMUTH, closeUp, from, fromAbove, wholeTower } from "./standpoint.js";

/** @typedef {import("./view.js").View} View */

/** @param {View} view @param {string} name @returns {import("./standpoint.js").Standpoint | null} */
export function standpoint(view, name) {
  const { width, height } = view.sightSize();
  const whole = wholeTower(view.head, width, height);
  const sides = { "north side": 0, "east side": 0.5, "south side": 1, "west side": 1.5 };
  if (name === "whole tower") return whole;
  if (name in sides) return { ...whole, azimuth: sides[/** @type {keyof typeof sides} */ (name)] * Math.PI };
  if (name === "from above, askew") return { ...whole, rise: 0.55, span: 1.25 * whole.span };
  const nearest = view.story.nearest(view.position);
  const [n] = view.story.split(view.position);
  const moving = view.story.passages[n].moving;
  if (name === "what moves" || name === "plan at the heel") {
    const s = moving.length ? moving[0] : view.story.passages[n].heels.findIndex(Boolean);
    const heel = s < 0 ? 0 : view.story.heel(s, view.position) ?? 0;
    if (name === "plan at the heel") return fromAbove(view.head, heel + 1);
    const long = s < 0 ? 10 : view.story.sections[s].length;
    const [x, y] = view.head.plumb;
    return { focus: [x, y, heel + long / 2], span: 1.35 * long, azimuth: USUAL_AZIMUTH, rise: 0.16, cut: null };
  }
  if (name === "least gap") {
    return nearest ? { ...closeUp(nearest.where, nearest.opposite.map((v, k) => v - nearest.where[k])) } : whole;
  }
  const face = /^along the (north|east|south|west) face$/.exec(name)?.[1];
  if (face) return alongFace(view, face, nearest);
  const made = view.head.standpoints.find((/** @type {any} */ s) => s.name === name);
  return made ? from(made.eye, made.target) : null;
}

/** @param {View} view @param {string} face @param {import("./story.js").Nearest | null} nearest */
export function alongFace(view, face, nearest) {
  const { low, high, plumb } = view.head;
  const z = nearest ? nearest.where[2] : (low[2] + high[2]) / 3;
  const out = { north: [0, 1], east: [1, 0], south: [0, -1], west: [-1, 0] };
  const [dx, dy] = out[/** @type {keyof typeof out} */ (face)];
  const edge = dx + dy > 0 ? high : low;
  const focus = [dx ? edge[0] - 0.45 * dx : plumb[0], dy ? edge[1] - 0.45 * dy : plumb[1], z];
  // One looks along the wall, with the gap to it across the picture.
  return { focus, span: 3.2, azimuth: Math.atan2(dy, -dx), rise: 0, cut: 1.6 };
}
