// What is written and drawn in lines: over the picture, under the slider, in words.

import { Places, widthOf } from "./labels.js";
import { listMembers, placeOf } from "./members.js";
import * as over from "./overlay.js";
import { gapStrip, loadStrip } from "./strips.js";
import { MARK, OTHER, escape } from "./svg.js";
import { gap, heightsIn, length } from "./units.js";

/** @typedef {import("./view.js").View} View */

const LENS_LINES = 3; // of words under the lens
const LENS_LETTERS = 0.86; // of the view's, as its style has them
const LINE_HEIGHT = 1.32;

/** @param {View} view */
export function drawOver(view) {
  const { now, at, unit } = view;
  if (!now) return;
  const { width, height } = view.sightSize();
  const size = 0.86 * view.text;
  const lens = view.lensFrame();
  const parts = [];
  if (view.picture) {
    const sheet = { at, width, height, size, unit, places: new Places(width, height) };
    if (lens) sheet.places.take(lens.frame.x, 0, width, lensFoot(view, lens.frame.height));
    // Fixed things first, then what marks a place, then words: each keeps off what was before it.
    parts.push(over.heightScale(sheet), over.northMark(sheet));
    if (view.colouring) parts.push(over.gapLegend(sheet, unmeasured(view)));
    if (now.nearest) parts.push(over.ring(sheet, now.nearest.where));
    const finding = view.finding === null ? null : view.head.findings[view.finding];
    if (finding?.where && finding.position !== null && Math.abs(finding.position - view.position) < 1e-6) {
      parts.push(over.findingMark(sheet, finding.where));
    }
    const standing = view.story.sections.flatMap((section, s) => {
      const heel = view.story.heel(s, view.position);
      const half = view.halves.get(section.name) ?? 1;
      const state = `${now.passage.states[s]}${now.passage.carriers[s] === "ground" ? "" : ` on ${now.passage.carriers[s]}`}`;
      return heel === null ? [] : [{ ...section, heel, half, state }];
    });
    const arrows = view.loads ? over.forceArrows(sheet, view.answerLoads ?? now.loads, pressed(view)) : { drawn: "", said: [] };
    parts.push(arrows.drawn, over.sectionMarks(sheet, standing, view.head.plumb));
    if (view.tape.length === 2) parts.push(over.distanceLine(sheet, view.tape[0], view.tape[1], length(Math.hypot(...view.tape[0].map((v, k) => v - view.tape[1][k])), unit), OTHER));
    else if (view.tape.length === 1) parts.push(over.ring(sheet, view.tape[0]));
    if (view.chosen >= 0) {
      const place = placeOf(view, view.chosen);
      if (place) parts.push(over.memberMark(sheet, place.middle, `${view.members[view.chosen].body.name}: ${view.members[view.chosen].mark}`));
    }
    parts.push(over.forceWords(sheet, arrows.said));
    if (view.danger) parts.push(over.droppedRing(sheet, dropped(view)));
    if (lens) {
      // What is drawn over the tower must not be drawn over the lens.
      const foot = lens.frame.height;
      parts.unshift(`<clipPath id="${view.layout.id}clip"><path d="M0 0H${lens.frame.x}V${foot}H${width}V${height}H0z"/></clipPath>`
        + `<g clip-path="url(#${view.layout.id}clip)">`);
      parts.push("</g>");
    }
  }
  drawLens(view, parts);
  view.layout.over.setAttribute("viewBox", `0 0 ${width} ${height}`);
  view.layout.over.setAttribute("font-size", size.toFixed(1));
  view.layout.over.innerHTML = parts.join("");
}

/** Ground on which what is dropped from the moving sections may land. @param {View} view
 * @returns {{x: number, y: number, z: number, radius: number, beside: number} | null} */
function dropped(view) {
  const { now, story, head } = view;
  if (!now?.passage.moving.length) return null;
  const heads = now.passage.moving.map((s) => (story.heel(s, view.position) ?? 0) + story.sections[s].length);
  const halves = now.passage.moving.map((s) => view.halves.get(story.sectionNames[s]) ?? 0);
  const { least, share } = head.hazards.dropped;
  const [x, y] = head.plumb;
  const ground = head.hazards.ground ?? 0;
  const beside = Math.max(least, share * (Math.max(...heads) - ground));
  return { x, y, z: ground, radius: Math.max(...halves) + beside, beside };
}

/** Why some pieces have no colour. @param {View} view */
function unmeasured(view) {
  const first = view.now?.run[0];
  if (first !== undefined && view.gapsMeasured.has(first)) return ["not measured here:", "passes nothing, or not proven"];
  if (view.host.live && first !== undefined && view.gapsAsked.has(first)) return ["being measured …", "till then the nearest only"];
  return ["not measured here:", "never the nearest of its pair"];
}

/** What presses on the shoes: as tried, else as the raise is planned. @param {View} view */
function pressed(view) {
  const { now, story } = view;
  if (view.tried || !now?.passage.moving.length) return view.arrows;
  return story.shoes(view.position, view.halves.get(story.sectionNames[now.passage.moving[0]]) ?? 1);
}

/** Lower edge of the lens and the words under it, reckoned so that the page need not be asked.
 * @param {View} view @param {number} high of the lens [px] */
const lensFoot = (view, high) => high + (LENS_LINES * LINE_HEIGHT + 0.4) * LENS_LETTERS * view.text + 2;

/** @param {View} view @param {string[]} parts */
export function drawLens(view, parts) {
  const box = view.layout.part(".tlv-lens");
  const nearest = view.now?.nearest;
  const lens = view.lensFrame();
  if (!nearest || !view.lensed) {
    box.style.display = "none";
    return;
  }
  const words = gap(nearest.gap, view.unit);
  const least = view.story.nearest(view.position);
  const title = least && least.gap < nearest.gap - 1e-9 ? "gap at the finding" : "least gap";
  const side = lens ? lens.frame.width : 220;
  box.style.display = "";
  box.style.width = `${side + 1}px`;
  box.style.top = `${lens ? lens.frame.height : 0}px`;
  box.innerHTML = `<p><b>${title} ${escape(words)}</b>${nearest.certified ? "" : ", not certified"}</p>`
    + `<p class="tlv-a" title="${escape(nearest.mark)}">${escape(nearest.moving)}: ${escape(nearest.mark)}</p>`
    + `<p class="tlv-b" title="${escape(nearest.oppositeMark)}">${escape(nearest.against)}: ${escape(nearest.oppositeMark)}</p>`;
  if (!lens) return;
  const { frame, at } = lens;
  const sheet = { at, width: frame.width, height: frame.height, size: 0.86 * view.text, places: new Places(frame.width, frame.height) };
  const inside = over.distanceLine(sheet, nearest.where, nearest.opposite, words, MARK);
  parts.push(`<svg x="${frame.x}" y="${frame.y}" width="${frame.width}" height="${frame.height}" overflow="hidden">${inside}`
    + `<rect x="0.5" y="0.5" width="${frame.width - 1}" height="${frame.height - 1}" fill="none" stroke="${MARK}"/></svg>`);
}

/** @param {View} view */
export function showStrips(view) {
  const { now, layout } = view;
  if (!now || !view.stripSize) return;
  const key = `${now.passage.stage}|${now.run.join()}`;
  const { room, size } = view.stripSize;
  if (key !== view.stripsOf) {
    view.stripsOf = key;
    const gaps = gapStrip(view.story, now.run, now.passage.stage, room, Math.max(96, 9.2 * size), size, view.unit);
    const loads = loadStrip(view.story, now.run, now.passage.stage, room, Math.max(96, 9.2 * size), size, view.unit);
    layout.part(".tlv-gapstrip").innerHTML = gaps.html;
    layout.part(".tlv-loadstrip").innerHTML = loads.html;
    listMembers(view);
    const strips = { course: view.course, gap: gaps, load: loads };
    view.marks = Object.entries(strips).map(([name, strip]) => ({
      name, x: strip?.x ?? null, group: layout.root.querySelector(`.tlv-now-${name}`) }));
  }
  for (const { name, x, group } of view.marks) {
    if (!x || !group) continue;
    const place = x(view.position);
    group.setAttribute("transform", `translate(${place.toFixed(1)} 0)`);
    const label = group.lastElementChild;
    if (!label) continue;
    let words = "";
    if (name === "gap" && now.nearest && now.passage.moving.length) words = gap(now.nearest.gap, view.unit);
    else if (name === "load" && now.loads) words = `${((now.loads.weight ?? NaN) / 1000).toFixed(1)} kN${now.loads.ratio === null ? "" : `, ratio ${now.loads.ratio.toFixed(2)}`}`;
    label.textContent = words;
    // The axes end where the key begins, at six tenths of the room.
    const late = name !== "course" && place + 0.84 * view.text * widthOf(words) > 0.6 * room;
    label.setAttribute("x", late ? "-4" : "4");
    label.setAttribute("text-anchor", late ? "end" : "start");
  }
}

/** @param {View} view */
export function showWords(view) {
  const { now, layout, story } = view;
  if (!now) return;
  const along = story.along(view.position);
  const { slider } = layout;
  if (Math.abs(Number(slider.value) - along) > 1e-9) slider.value = String(along);
  let words = heightsIn(now.passage.words, view.unit);
  if (now.passage.moving.length) {
    // Where it is comes first: the end of a long line may not be in sight.
    const here = length(story.heel(now.passage.moving[0], view.position) ?? 0, view.unit);
    words = words.includes("heel ") ? words.replace("heel ", `heel at ${here}, from `) : `${words}; now ${here}`;
  }
  if (now.passage.event) words += ` (${heightsIn(now.passage.event, view.unit)})`;
  const said = now.nearest ? `${words}. Least gap ${gap(now.nearest.gap, view.unit)}, ${now.nearest.moving} ${now.nearest.mark} to ${now.nearest.against} ${now.nearest.oppositeMark}.` : words;
  slider.setAttribute("aria-valuetext", said);
  if (!(performance.now() < (view.saidUntil ?? 0))) layout.part(".tlv-now-words").textContent = timeWords(view, words);
  if (layout.part(".tlv-stage").value !== now.passage.stage) layout.part(".tlv-stage").value = now.passage.stage;
  const rows = story.sections.map((section, s) => {
    const heel = story.heel(s, view.position);
    const state = now.passage.states[s];
    const on = now.passage.carriers[s];
    const place = heel === null ? "not built" : `heel ${length(heel, view.unit)}, ${state}${on ? ` on ${on}` : ""}`;
    return `<div><dt>${escape(section.name)}</dt><dd>${escape(place)}</dd></div>`;
  });
  const html = rows.join("");
  if (html !== view.statesShown) {
    view.statesShown = html;
    layout.part(".tlv-states").innerHTML = html;
  }
}

/** @param {View} view @param {string} words */
export function timeWords(view, words) {
  const { now } = view;
  if (!now?.passage.begins) return words;
  // Written as the plan writes it, in the site's own time.
  const [, sign, hours, minutes] = /([+-])(\d\d):(\d\d)$/.exec(now.passage.begins) ?? ["", "+", "0", "0"];
  const ahead = (sign === "-" ? -60_000 : 60_000) * (60 * Number(hours) + Number(minutes));
  const at = Date.parse(now.passage.begins) + 1000 * now.share * now.passage.lasts + ahead;
  return `${new Date(at).toISOString().slice(0, 16).replace("T", " ")}  ${words}`;
}
