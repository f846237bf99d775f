// The page's own elements, made once; everything that is not 3D is plain HTML.

import { escape } from "./svg.js";

/** @param {string} html @returns {HTMLElement} */
function made(html) {
  const holder = document.createElement("template");
  holder.innerHTML = html.trim();
  return /** @type {HTMLElement} */ (holder.content.firstElementChild);
}

export const SPEEDS = [[1, "true speed"], [10, "10 times"], [60, "60 times"], [300, "300 times"], [1000, "1000 times"]];
const VERDICTS = [["fail", "that fail"], ["not evaluated", "not evaluated"], ["pass", "that pass"], ["", "all"]];
let made_ = 0;

/** @param {any} head */
export function layOut(head) {
  const id = `tlv${++made_}`;
  const options = (/** @type {unknown[][]} */ rows) =>
    rows.map(([value, words]) => `<option value="${escape(value)}">${escape(words)}</option>`).join("");
  const titles = new Map(head.stages.map((/** @type {any} */ stage) => [stage.name, stage.title]));
  const used = [...new Set(head.passages.map((/** @type {any} */ p) => p.stage))];
  const verdict = head.passes ? "Every finding passes." : `${escape(head.summary)}.`;
  const root = made(`<section class="tlv" aria-label="${escape(head.name)}: the raise">
  <header class="tlv-head"><h2>${escape(head.name)}</h2>
    <span class="tlv-verdict">${verdict}</span>
    <span class="tlv-caution">${escape(head.caution)}</span></header>
  <div class="tlv-main">
    <div class="tlv-sight">
      <canvas tabindex="0" role="img" aria-describedby="${id}now"
        aria-label="The tower in its shaft. Arrow keys turn the view, plus and minus come nearer and go farther."></canvas>
      <svg class="tlv-over" aria-hidden="true"></svg>
      <div class="tlv-lens" aria-live="off"></div>
      <div class="tlv-hover" role="status"></div>
      <div class="tlv-away" role="alert"></div>
    </div>
    <div class="tlv-side">
      <div class="tlv-row">
        <button type="button" class="tlv-play" aria-pressed="false">▶ play</button>
        <label>at <select class="tlv-speed" aria-label="speed">${options(SPEEDS)}</select></label>
        <label>stage <select class="tlv-stage" style="max-width:15em">${options(used.map((name) => [name, `${name}: ${titles.get(name) ?? ""}`]))}</select></label>
        <button type="button" class="tlv-hold" title="Go to the next stage that is signed for before it begins">hold point ▸</button>
        <button type="button" class="tlv-unit" title="Metres or feet">m</button>
        <button type="button" class="tlv-smaller" aria-label="smaller letters">A−</button>
        <button type="button" class="tlv-larger" aria-label="larger letters">A+</button>
      </div>
      <div class="tlv-row">
        <label>look from <select class="tlv-from" style="max-width:12.5em"></select></label>
        <button type="button" class="tlv-cut" aria-pressed="true" title="Leave out the wall nearest to you">near wall away</button>
        <button type="button" class="tlv-gaps" aria-pressed="false" title="Colour pieces and stone by their least gap in this haul">gap colours</button>
        <button type="button" class="tlv-loads" aria-pressed="true">loads</button>
        <button type="button" class="tlv-danger" aria-pressed="true" title="Where nobody may be while something moves">keep clear</button>
        <button type="button" class="tlv-lensed" aria-pressed="true">lens</button>
        <button type="button" class="tlv-tape" aria-pressed="false" title="Point at two places to measure between them">tape</button>
      </div>
      <div class="tlv-now-words" id="${id}now"></div>
      <div class="tlv-way"><div class="tlv-course"></div>
        <input type="range" min="0" max="1" step="any" value="0" aria-label="way through the raise"></div>
      <div class="tlv-strip tlv-gapstrip"></div>
      <div class="tlv-strip tlv-loadstrip"></div>
      <dl class="tlv-states" aria-label="state of each section"></dl>
      <details class="tlv-tries" hidden><summary>What if …</summary><div class="tlv-sliders"></div><div class="tlv-answer" role="status"></div></details>
      <div class="tlv-row">
        <label>findings <select class="tlv-sieve">${options(VERDICTS.map(([v, words]) => [v, v ? `${words} (${head.counts[v] ?? 0})` : `${words} (${head.findings.length})`]))}</select></label>
        <input type="search" class="tlv-words" placeholder="words to find" aria-label="words to find in the findings" size="12">
        <button type="button" class="tlv-before">◂ finding</button>
        <button type="button" class="tlv-next">finding ▸</button>
        <span class="tlv-count"></span>
      </div>
      <select class="tlv-list" size="4" aria-label="findings, worst first"></select>
      <div class="tlv-finding" tabindex="0" aria-label="the chosen finding" aria-live="polite"></div>
    </div>
  </div>
  <div class="tlv-unseen" role="status" aria-live="polite"></div>
</section>`);
  /** @param {string} name @returns {any} */
  const part = (name) => root.querySelector(name);
  return {
    id,
    root,
    canvas: /** @type {HTMLCanvasElement} */ (root.querySelector("canvas")),
    over: /** @type {SVGSVGElement} */ (root.querySelector(".tlv-over")),
    slider: /** @type {HTMLInputElement} */ (root.querySelector(".tlv-way input")),
    part,
  };
}

/** A finding in full. @param {any} finding */
export function findingHtml(finding) {
  if (!finding) return "<p>Choose a finding to go to its stage, height and place.</p>";
  const parts = [`<h3 class="${finding.verdict === "pass" ? "" : "tlv-fail"}">${escape(finding.word)}: ${escape(finding.check)}</h3>`];
  parts.push(`<p>${escape(finding.subject)}</p>`);
  parts.push(`<p><b>${escape(finding.found)}</b>, asked ${escape(finding.asked)}${finding.spare ? `: ${escape(finding.spare)}` : ""}.</p>`);
  let place = finding.stage ? `Stage ${finding.stage}` : "The whole raise";
  if (finding.heel !== null) place += `, heel at ${finding.heel.toFixed(2)} m`;
  if (finding.where) place += `, at x ${finding.where.map((/** @type {number} */ v) => v.toFixed(2)).join(", ")} m`;
  parts.push(`<p>${escape(place)}.</p>`);
  if (finding.why) parts.push(`<p>${escape(finding.why)}</p>`);
  if (finding.remedy.length) {
    parts.push(`<p>What would cure it, best first:</p><ol>${finding.remedy.map((/** @type {string} */ each) => `<li>${escape(each)}</li>`).join("")}</ol>`);
  }
  parts.push(`<p>Limit by: ${escape(finding.source)}.</p>`);
  if (finding.overrule) parts.push(`<p>${escape(finding.overrule)}.</p>`);
  return parts.join("");
}

/** A finding as one line of the list. @param {any} finding */
export function findingLine(finding) {
  const heel = finding.heel === null ? "" : ` ${finding.heel.toFixed(2)} m`;
  return `${finding.word} · ${finding.check} · ${finding.stage || "all"}${heel} · ${finding.found} (${finding.asked}) · ${finding.subject}`;
}
