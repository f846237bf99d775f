// What the pointer rests on, and the tape between two places.

import { chooseMember } from "./members.js";
import { gap, length } from "./units.js";

/** @typedef {import("./view.js").View} View */

const MEASURED_TO = 0.5; // what keeps farther off is not measured by the kernel [m]

/** @param {View} view @param {number} x @param {number} y */
export function hover(view, x, y) {
  view.hoverPlace = [x, y];
  if (view.hovering) return;
  view.hovering = setTimeout(() => {
    view.hovering = 0;
    if (!view.picture || view.lost) return;
    const [px, py] = /** @type {number[]} */ (view.hoverPlace);
    view.ready();
    const found = view.inLens(px, py) ? null : view.picture.pick(view.at, px, py);
    hoverAt(view, found ? found.member : -1, px, py);
  }, 60);
}

/** @param {View} view @param {number} member @param {number} x @param {number} y */
export function hoverAt(view, member, x, y) {
  const label = view.layout.part(".tlv-hover");
  if (member < 0) label.textContent = "";
  else {
    const { body, mark, part } = view.members[member];
    const said = leastWords(view, member);
    label.textContent = `${body.name}: ${mark}${part !== mark ? ` (${part})` : ""}`
      + (said === null ? "" : `, least gap in this haul ${said}`);
    const { width } = view.sightSize();
    label.style.left = `${Math.min(x + 14, width - 180)}px`;
    label.style.top = `${y + 14}px`;
  }
  if (member !== view.hovered) {
    view.hovered = member;
    view.painted = "";
    view.invalidate();
  }
}

/** @param {View} view @param {number} x @param {number} y */
export function clicked(view, x, y) {
  if (!view.picture || view.lost) return;
  view.ready();
  const found = view.picture.pick(view.at, x, y);
  if (!view.measuring) {
    chooseMember(view, found ? found.member : -1);
    return;
  }
  if (!found) return;
  view.tape = view.tape.length === 1 ? [view.tape[0], found.place] : [found.place];
  if (view.tape.length === 2) view.say(tapeWords(view));
  view.invalidate();
}

/** @param {View} view */
export function tapeWords(view) {
  const [a, b] = view.tape;
  const d = a.map((v, k) => b[k] - v);
  const all = length(Math.hypot(...d), view.unit);
  return `${all} (east ${length(d[0], view.unit)}, north ${length(d[1], view.unit)}, up ${length(d[2], view.unit)})`;
}

/** Least gap of a member in the haul at hand, in words; null where it was not measured.
 * @param {View} view @param {number} member */
export function leastWords(view, member) {
  const least = memberGap(view, member);
  if (least === null) return null;
  return least === Infinity ? `${gap(MEASURED_TO, view.unit)} or more` : gap(least, view.unit);
}

/** @param {View} view Least gap of a member in the haul at hand, by Python. @param {number} member */
export function memberGap(view, member) {
  const run = view.story.haulNear(view.story.split(view.position)[0]);
  return view.leastByMember(run).get(member) ?? null;
}
