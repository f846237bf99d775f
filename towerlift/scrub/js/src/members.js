// Members by name: a list of them for keyboard and screen reader, and the one that is chosen.

import { leastWords } from "./pointing.js";
import { carried } from "./story.js";
import { escape } from "./svg.js";
import { length } from "./units.js";

/** @typedef {import("./view.js").View} View */

const KINDS = [["section", "sections"], ["fit-out", "fitted on them"], ["shaft", "the shaft"], ["fixture", "fixtures"]];
const FULL = 65535;

/** Bodies whose members are listed, sections first. @param {View} view */
export function listBodies(view) {
  view.layout.part(".tlv-body").innerHTML = KINDS.map(([kind, words]) => {
    const rows = view.head.bodies.map((/** @type {any} */ body, /** @type {number} */ n) =>
      body.kind === kind ? `<option value="${n}">${escape(body.name)}</option>` : "").join("");
    return rows ? `<optgroup label="${words}">${rows}</optgroup>` : "";
  }).join("");
}

/** What is said of a member in a list. @param {View} view @param {number} member */
function row(view, member) {
  const { mark, part } = view.members[member];
  const least = leastWords(view, member);
  const said = least === null ? "gap not measured here" : `least gap ${least}`;
  return `${mark}${part !== mark ? ` (${part})` : ""} · ${said}`;
}

/** Fill the list where it is open and no longer true. @param {View} view */
export function listMembers(view) {
  const { part } = view.layout;
  if (!part(".tlv-members").open) return;
  const body = view.head.bodies[Number(part(".tlv-body").value)];
  const key = `${body?.name}|${view.now?.run[0]}|${view.unit}`;
  if (!body || key === view.membersOf) return;
  view.membersOf = key;
  part(".tlv-memberlist").innerHTML = body.marks.map((/** @type {string} */ _, /** @type {number} */ n) =>
    `<option value="${body.first + n}">${escape(row(view, body.first + n))}</option>`).join("");
  part(".tlv-memberlist").value = view.chosen < 0 ? "" : String(view.chosen);
}

/** Boxes round the members of a mover, in its own frame: low and high corner, found once.
 * @param {View} view @param {string} mover */
function boxesOf(view, mover) {
  const known = view.boxes.get(mover);
  if (known) return known;
  const n = view.head.movers.findIndex((/** @type {any} */ each) => each.name === mover);
  const { low, size } = view.head.movers[n];
  const [places, members] = [view.arrays[`places${n}`], view.arrays[`members${n}`]];
  /** @type {Map<number, {low: number[], high: number[]}>} */
  const boxes = new Map();
  for (let v = 0; v < members.length; v++) {
    let box = boxes.get(members[v]);
    if (!box) boxes.set(members[v], box = { low: [Infinity, Infinity, Infinity], high: [-Infinity, -Infinity, -Infinity] });
    for (let k = 0; k < 3; k++) {
      const at = low[k] + (size[k] * places[3 * v + k]) / FULL;
      box.low[k] = Math.min(box.low[k], at);
      box.high[k] = Math.max(box.high[k], at);
    }
  }
  view.boxes.set(mover, boxes);
  return boxes;
}

/** Where a member is now: its middle, and the heights between which it lies; null where it is
 * not on the site. @param {View} view @param {number} member */
export function placeOf(view, member) {
  const { body } = view.members[member];
  const pose = view.poseOf(body.mover);
  const box = boxesOf(view, body.mover).get(member);
  if (!pose || !box || !view.now || body.seen[view.now.n] !== "1") return null;
  const corners = [0, 1, 2, 3, 4, 5, 6, 7].map((n) =>
    carried(pose, [0, 1, 2].map((k) => (n >> k & 1 ? box.high : box.low)[k])));
  const heights = corners.map((corner) => corner[2]);
  const middle = carried(pose, [0, 1, 2].map((k) => (box.low[k] + box.high[k]) / 2));
  return { middle, low: Math.min(...heights), high: Math.max(...heights) };
}

/** A member's name, least gap and height. @param {View} view @param {number} member */
export function memberWords(view, member) {
  const { body } = view.members[member];
  const place = placeOf(view, member);
  const where = place ? `from ${length(place.low, view.unit)} to ${length(place.high, view.unit)} up` : "not on the site here";
  return `${body.name}: ${row(view, member).replace(" · ", ", ")}${leastWords(view, member) === null ? "" : " in this haul"}; ${where}.`;
}

/** Mark a member, and tell what it is; -1 marks none. @param {View} view @param {number} member */
export function chooseMember(view, member) {
  const { part } = view.layout;
  view.chosen = member;
  if (member >= 0) {
    const index = String(view.head.bodies.indexOf(view.members[member].body));
    if (part(`.tlv-body option[value="${index}"]`)) part(".tlv-body").value = index;
    listMembers(view);
    view.say(memberWords(view, member));
  }
  part(".tlv-memberlist").value = member < 0 ? "" : String(member);
  view.painted = "";
  view.invalidate();
}

/** Go to look at the chosen member. @param {View} view */
export function lookAtMember(view) {
  const place = view.chosen < 0 ? null : placeOf(view, view.chosen);
  if (!place) return;
  view.own();
  const span = Math.max(2.5, 1.6 * (place.high - place.low));
  view.at = { ...view.at, eye: null, rise: Math.min(Math.max(view.at.rise, 0), 0.5), focus: place.middle, span, cut: null };
  view.invalidate();
}
