// The list of findings, and going to one.

import { findingHtml, findingLine } from "./layout.js";
import { closeUp } from "./standpoint.js";
import { held } from "./story.js";
import { escape } from "./svg.js";

/** @typedef {import("./view.js").View} View */

/** @param {View} view */
export function listFindings(view) {
  const { part } = view.layout;
  const sieve = part(".tlv-sieve").value;
  const words = part(".tlv-words").value.toLowerCase().split(/\s+/).filter(Boolean);
  if (view.listedFor === undefined && !view.head.counts.fail) {
    part(".tlv-sieve").value = view.head.counts["not evaluated"] ? "not evaluated" : "pass";
    view.listedFor = "";
    return listFindings(view);
  }
  view.listedFor = sieve;
  view.listed = [];
  view.head.findings.forEach((/** @type {any} */ finding, /** @type {number} */ n) => {
    const said = `${findingLine(finding, view.unit)} ${finding.why} ${finding.remedy.join(" ")} ${finding.source}`.toLowerCase();
    if ((!sieve || finding.verdict === sieve) && words.every((/** @type {string} */ word) => said.includes(word))) view.listed.push(n);
  });
  part(".tlv-list").innerHTML = view.listed.map((n) =>
    `<option value="${n}">${escape(findingLine(view.head.findings[n], view.unit))}</option>`).join("");
  part(".tlv-count").textContent = `${view.listed.length} listed`;
  showFinding(view);
  return undefined;
}

/** @param {View} view */
export function showFinding(view) {
  const { part } = view.layout;
  const list = part(".tlv-list");
  list.value = view.finding === null ? "" : String(view.finding);
  part(".tlv-finding").innerHTML = findingHtml(view.finding === null ? null : view.head.findings[view.finding], view.unit);
}

/** @param {View} view @param {number} n */
export function choose(view, n) {
  const finding = view.head.findings[n];
  if (!finding) return;
  view.finding = n;
  if (!view.listed.includes(n)) {
    view.layout.part(".tlv-sieve").value = finding.verdict;
    view.layout.part(".tlv-words").value = "";
    view.listedFor ??= "";
    if (!view.unlisted) listFindings(view);
  }
  view.play(false);
  if (finding.position !== null) view.goTo(finding.position);
  else view.invalidate();
  showFinding(view);
  if (finding.where) {
    lookAtFinding(view, finding);
  } else view.lookFrom("whole tower");
  if (view.host.get("follow") && view.host.live) view.tell("finding", n);
}

/** @param {View} view @param {any} finding */
export function lookAtFinding(view, finding) {
  const near = view.story.nearest(view.position, finding.where);
  const close = near && Math.hypot(...near.where.map((v, k) => v - finding.where[k])) < 0.6;
  const along = close ? near.opposite.map((v, k) => v - near.where[k]) : null;
  view.fromName = "";
  view.at = { ...closeUp(finding.where, along), span: 5, cut: 1.2 };
  view.layout.part(".tlv-from").value = "finding";
  view.invalidate();
}

/** @param {View} view @param {number} by */
export function nextFinding(view, by) {
  if (!view.listed.length) return;
  const now = view.finding === null ? -1 : view.listed.indexOf(view.finding);
  const next = now < 0 ? 0 : held(now + by, 0, view.listed.length - 1);
  choose(view, view.listed[next]);
}
