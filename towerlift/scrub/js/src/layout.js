// The page's own elements, made once; everything that is not 3D is plain HTML.

import { escape } from "./svg.js";
import { inches, length } from "./units.js";

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
        <label class="tlv-grows">stage <select class="tlv-stage">${options(used.map((name) => [name, `${name}: ${titles.get(name) ?? ""}`]))}</select></label>
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
        <button type="button" class="tlv-danger" aria-pressed="true" title="Where nobody may be while something moves, by common practice: below it, 2 m each side of a fall and 4 m beyond its ends, and beside what is lifted the larger of 6 m and a quarter of its height">keep clear</button>
        <button type="button" class="tlv-lensed" aria-pressed="true">lens</button>
        <button type="button" class="tlv-tape" aria-pressed="false" title="Point at two places to measure between them">tape</button>
      </div>
      <div class="tlv-now-words" id="${id}now"></div>
      <div class="tlv-way"><div class="tlv-course"></div>
        <input type="range" min="0" max="1" step="any" value="0" aria-label="way through the raise"></div>
      <div class="tlv-strip tlv-gapstrip"></div>
      <div class="tlv-strip tlv-loadstrip"></div>
      <dl class="tlv-states" aria-label="state of each section"></dl>
      <details class="tlv-members"><summary>Members by name</summary>
        <div class="tlv-row"><label>of <select class="tlv-body"></select></label>
          <button type="button" class="tlv-lookat" title="Go near the chosen member">look at it</button>
          <button type="button" class="tlv-unchoose" title="Mark none">mark none</button></div>
        <select class="tlv-memberlist" size="5" aria-label="members; choosing one marks it and tells its least gap and height"></select></details>
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

/** A finding's number as the reader writes lengths: never to look better than it is.
 * @param {any} finding @param {"value" | "limit" | "margin"} which
 * @param {import("./units.js").Unit} unit */
function amount(finding, which, unit) {
  const { found, asked, spare } = finding;
  const written = { value: found, limit: asked, margin: spare }[which];
  const metres = { mm: 0.001, m: 1 }[/** @type {"mm" | "m"} */ (finding.unit)];
  const value = finding[which];
  if (unit === "m" || !metres || value === null || value === undefined) return written;
  // What must be at least so much is rounded down where it is found, up where it is asked.
  const down = (finding.bound === "at least") === (which !== "limit");
  const said = inches(Math.abs(value) * metres, value < 0 ? !down : down);
  if (which === "limit") return `${finding.bound} ${said}`;
  if (which === "value") return `${value < 0 ? "−" : ""}${said}`;
  return `${said} ${written.split(" ").slice(2).join(" ")}`;
}

/** A finding in full. @param {any} finding @param {import("./units.js").Unit} unit */
export function findingHtml(finding, unit) {
  if (!finding) return "<p>Choose a finding to go to its stage, height and place.</p>";
  const parts = [`<h3 class="${finding.verdict === "pass" ? "" : "tlv-fail"}">${escape(finding.word)}: ${escape(finding.check)}</h3>`];
  parts.push(`<p>${escape(finding.subject)}</p>`);
  parts.push(`<p><b>${escape(amount(finding, "value", unit))}</b>, asked ${escape(amount(finding, "limit", unit))}${finding.spare ? `: ${escape(amount(finding, "margin", unit))}` : ""}.</p>`);
  let place = finding.stage ? `Stage ${finding.stage}` : "The whole raise";
  if (finding.heel !== null) place += `, heel at ${length(finding.heel, unit)}`;
  if (finding.where) place += `, at ${["east", "north", "up"].map((way, k) => `${way} ${length(finding.where[k], unit)}`).join(", ")}`;
  parts.push(`<p>${escape(place)}.</p>`);
  if (unit === "ft" && (finding.why || finding.remedy.length)) parts.push("<p>Reasons and cures are told in metres, as they were reckoned:</p>");
  if (finding.why) parts.push(`<p>${escape(finding.why)}</p>`);
  if (finding.remedy.length) {
    parts.push(`<p>What would cure it, best first:</p><ol>${finding.remedy.map((/** @type {string} */ each) => `<li>${escape(each)}</li>`).join("")}</ol>`);
  }
  parts.push(`<p>Limit by: ${escape(finding.source)}.</p>`);
  if (finding.overrule) parts.push(`<p>${escape(finding.overrule)}.</p>`);
  return parts.join("");
}

/** A finding as one line of the list. @param {any} finding @param {import("./units.js").Unit} unit */
export function findingLine(finding, unit) {
  const heel = finding.heel === null ? "" : ` ${length(finding.heel, unit)}`;
  return `${finding.word} · ${finding.check} · ${finding.stage || "all"}${heel} · ${amount(finding, "value", unit)} (${amount(finding, "limit", unit)}) · ${finding.subject}`;
}
