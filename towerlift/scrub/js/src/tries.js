// What if: sliders that ask the kernel. One request is out at a time, and the newest wins.

import { escape } from "./svg.js";

/** @typedef {import("./view.js").View} View */

/** @param {View} view @param {any[]} sliders */
export function offerTries(view, sliders) {
  const box = view.layout.part(".tlv-tries");
  box.hidden = !sliders?.length || !view.host.live;
  if (box.hidden) {
    view.tries = {};
    forgetTries(view);
    view.invalidate();
    return;
  }
  const rows = view.layout.part(".tlv-sliders");
  rows.textContent = "";
  view.tries = {};
  for (const each of sliders) {
    const row = document.createElement("label");
    const value = each.value ?? 0;
    view.tries[each.key] = value;
    row.innerHTML = `<span class="tlv-label">${escape(each.label)}</span><input type="range" min="${each.min}" max="${each.max}"`
      + ` step="${each.step}" value="${value}" data-key="${escape(each.key)}"><output>${value} ${escape(each.unit)}</output>`;
    const input = /** @type {HTMLInputElement} */ (row.querySelector("input"));
    input.addEventListener("input", () => {
      view.tries[each.key] = Number(input.value);
      /** @type {HTMLOutputElement} */ (row.querySelector("output")).textContent = `${input.value} ${each.unit}`;
      ask(view);
    });
    row.className = "tlv-try";
    rows.append(row);
  }
}

/** Only the newest request is out: the next goes when its answer is in. @param {View} view */
export function ask(view) {
  view.wanted = { position: view.position, values: { ...view.tries } };
  if (view.asked) return;
  const number = (view.asks += 1);
  view.asked = number;
  view.tried = view.wanted;
  const request = { number, ...view.wanted };
  view.wanted = null;
  view.stats.sent += 1;
  view.host.set("what_if_request", request);
}

/** The raise is elsewhere: what was tried there is tried here. @param {View} view */
export function triedElsewhere(view) {
  forgetTries(view);
  if (Object.values(view.tries).some((value) => value !== 0)) ask(view);
}

/** @param {View} view @param {any} answer */
export function answered(view, answer) {
  if (!answer?.number) return;
  if (answer.number === view.asked) view.asked = 0;
  // An answer about another place must not be shown at this one, nor one that comes late.
  if (view.layout.part(".tlv-tries").hidden || Math.abs((answer.position ?? view.position) - view.position) > 1e-6) {
    if (view.wanted) ask(view);
    return;
  }
  view.tried ??= { position: view.position, values: { ...view.tries } };
  view.changes = {};
  for (const [name, [tiltX, tiltY, yaw, driftX, driftY]] of Object.entries(/** @type {any} */ (answer.poses ?? {}))) {
    view.changes[name] = { tiltX, tiltY, yaw, driftX, driftY };
  }
  view.answerGap = answer.gap ?? null;
  view.answerLoads = answer.lines ? { lines: answer.lines } : null;
  view.arrows = answer.arrows ?? [];
  view.layout.part(".tlv-answer").innerHTML = `<table><tbody>${(answer.rows ?? []).map((/** @type {any} */ row) =>
    `<tr><th>${escape(row.name)}</th><td>${escape(row.value)}</td><td>${escape(row.verdict ?? "")}</td></tr>`).join("")}</tbody></table>`;
  view.invalidate();
  if (view.wanted) ask(view);
}

/** @param {View} view */
export function forgetTries(view) {
  view.tried = null;
  view.changes = {};
  view.answerGap = null;
  view.answerLoads = null;
  view.arrows = [];
  view.layout.part(".tlv-answer").textContent = "";
}
