// What is drawn under the slider: the course of the raise, gaps and loads of the haul at hand.
// Each strip is drawn when its haul changes; while sliding only its mark moves.

import { widthOf, wrapped } from "./labels.js";
import { held } from "./story.js";
import { el, escape, FAINT, GRID, INK, LIMIT, line, LINES, MARK, number, px, shorten, text, ticks }
  from "./svg.js";
import { gap, heightsIn, inches, length } from "./units.js";

/** @typedef {import("./story.js").Story} Story */
/** @typedef {{x: (v: number) => number, y: (v: number) => number, left: number, right: number,
 *   top: number, bottom: number}} Axes */

const NAMED = 4;
const FOOT = 0.3048;
/** How the axes of a strip are numbered: of gaps in mm, of heels in m. */
const SCALES = { m: { gap: 1, gapUnit: "mm", heel: 1, heelUnit: "m" },
  ft: { gap: 12 / (1000 * FOOT), gapUnit: "in", heel: 1 / FOOT, heelUnit: "ft" } };
/** @typedef {import("./units.js").Unit} Unit */
const SECTION_DASH = ["", "6 3", "2 2.5", "9 3 2 3"];

/** @param {number[]} span @param {number[]} across @param {number[]} box left, top, right, bottom
 * @returns {Axes} */
function axesOf(span, across, [left, top, right, bottom]) {
  return {
    left, top, right, bottom,
    x: (v) => left + ((right - left) * (v - span[0])) / (span[1] - span[0] || 1),
    y: (v) => bottom - (bottom - top) * held((v - across[0]) / (across[1] - across[0] || 1), 0, 1),
  };
}

/** @param {Axes} at @param {number[]} up @param {number[]} along numbers to write, as the scale
 * has them @param {number} size @param {{gap: number, heel: number}} scale */
function grid(at, up, along, size, scale) {
  const parts = [];
  for (const v of up) {
    const y = at.y(v / scale.gap);
    parts.push(line([[at.left, y], [at.right, y]], { stroke: GRID }));
    parts.push(text(at.left - 4, y + 0.35 * size, number(v), { "text-anchor": "end" }));
  }
  for (const v of along) {
    const x = at.x(v / scale.heel);
    parts.push(line([[x, at.bottom], [x, at.bottom + 3]], { stroke: INK }));
    parts.push(text(x, at.bottom + 1.25 * size, number(v), { "text-anchor": "middle" }));
  }
  parts.push(line([[at.left, at.top], [at.left, at.bottom], [at.right, at.bottom]], { stroke: INK }));
  return parts.join("");
}

/** @param {string} title @param {string} said @param {number} width @param {number} height
 * @param {number} size @param {string} inside */
function sheet(title, said, width, height, size, inside) {
  return `<svg role="img" aria-label="${escape(`${title}. ${said}`)}" width="${px(width)}" `
    + `height="${px(height)}" viewBox="0 0 ${px(width)} ${px(height)}" font-size="${px(size)}">`
    + `${inside}</svg>`;
}

/** The part of every strip that moves. @param {Axes} at @param {string} name */
const mark = (at, name) => el("g", { class: `tlv-now tlv-now-${name}` },
  line([[0, at.top - 2], [0, at.bottom]], { stroke: MARK, "stroke-width": 1.8 })
  + text(4, at.top - 3, "", { fill: MARK, "font-weight": "bold", "paint-order": "stroke",
    stroke: "#fff", "stroke-width": "3" }));

/** The whole raise: heels of the sections along the slider, stages, places of findings.
 * @param {Story} story @param {number} width @param {number} height @param {number} size
 * @param {number} inset room of the slider's handle at either end [px] */
export function courseStrip(story, width, height, size, inset) {
  const tops = story.passages.flatMap((p) => p.heels.flatMap((h) => h ?? []));
  const high = Math.max(1, ...tops);
  const at = axesOf([0, story.length], [0, high * 1.08], [inset, 1.5 * size, width - inset, height - 1.4 * size]);
  const parts = [];
  let shade = false;
  for (const { name, first, last } of story.stages) {
    const [a, b] = [at.x(story.bounds[first]), at.x(story.bounds[last])];
    if ((shade = !shade)) parts.push(el("rect", { x: a, y: at.top, width: b - a, height: at.bottom - at.top, fill: "#f0eee8" }));
    if (b - a > 0.75 * size * name.length) {
      parts.push(text((a + b) / 2, height - 0.25 * size, name, { "text-anchor": "middle" }));
    }
  }
  story.sections.forEach((section, s) => {
    /** @type {number[][]} */
    let piece = [];
    const draw = () => {
      if (piece.length) {
        parts.push(line(piece, { stroke: LINES[s % LINES.length][0], "stroke-width": 1.8,
          "stroke-dasharray": SECTION_DASH[s % SECTION_DASH.length] }));
      }
      piece = [];
    };
    story.passages.forEach((passage, n) => {
      const place = passage.heels[s];
      if (!place) draw();
      else piece.push([at.x(story.bounds[n]), at.y(place[0])], [at.x(story.bounds[n + 1]), at.y(place[1])]);
    });
    draw();
  });
  let x = inset;
  story.sections.forEach((section, s) => {
    const words = `heel of ${section.name}`;
    parts.push(line([[x, 0.7 * size], [x + 20, 0.7 * size]], { stroke: LINES[s % LINES.length][0],
      "stroke-width": 1.8, "stroke-dasharray": SECTION_DASH[s % SECTION_DASH.length] }));
    parts.push(text(x + 24, 1.05 * size, words));
    x += 34 + 0.56 * size * words.length;
  });
  const failing = story.head.findings.filter((/** @type {any} */ f) => f.verdict !== "pass" && f.position !== null);
  for (const finding of failing) {
    const place = at.x(story.along(finding.position));
    const filled = finding.verdict === "fail" ? MARK : "#fff";
    parts.push(el("path", { d: `M${px(place)} ${px(at.bottom - 7)}l4 7h-8z`, fill: filled, stroke: MARK }));
  }
  for (const [verdict, fill, words] of [["fail", MARK, "a finding fails"], ["not evaluated", "#fff", "one is not evaluated"]]) {
    if (!failing.some((/** @type {any} */ f) => f.verdict === verdict)) continue;
    parts.push(el("path", { d: `M${px(x + 6)} ${px(0.25 * size)}l4 7h-8z`, fill, stroke: MARK }));
    parts.push(text(x + 14, 1.05 * size, words));
    x += 24 + 0.56 * size * words.length;
  }
  parts.push(mark(at, "course"));
  const said = story.stages.map((stage) => stage.name).join(", ");
  return { html: sheet("Course of the raise", `Stages ${said}`, width, height, size, parts.join("")),
    x: (/** @type {number} */ position) => at.x(story.along(position)) };
}

/** Gap curves of a haul, joined by pair, least first. @param {Story} story @param {number[]} run */
export function pairsOf(story, run) {
  /** @type {Map<string, any>} */
  const pairs = new Map();
  for (const n of run) {
    const passage = story.passages[n];
    const hauled = /** @type {number[]} */ (passage.heels[passage.moving[0]]);
    for (const curve of story.gapsOf.get(n) ?? []) {
      const own = /** @type {number[]} */ (passage.heels[story.sectionNames.indexOf(curve.moving)]);
      const shift = hauled[0] - own[0];
      const key = `${curve.moving}|${curve.against}`;
      const pair = pairs.get(key) ?? { moving: curve.moving, against: curve.against, shift,
        pieces: [], least: Infinity, at: 0, marks: ["", ""], certified: true };
      pair.certified &&= curve.certified;
      curve.least.forEach((/** @type {number} */ least, /** @type {number} */ k) => {
        pair.pieces.push([curve.heels[k] + shift, curve.heels[k + 1] + shift, 1000 * least]);
        if (least < pair.least) {
          Object.assign(pair, { least, at: curve.at[k] + shift, marks: [curve.marks[k], curve.oppositeMarks[k]] });
        }
      });
      pairs.set(key, pair);
    }
  }
  return [...pairs.values()].sort((a, b) => a.least - b.least);
}

/** @param {Story} story @param {number[]} run */
function ends(story, run) {
  const unit = story.passages[run[0]].moving[0];
  const first = /** @type {number[]} */ (story.passages[run[0]].heels[unit])[0];
  const last = /** @type {number[]} */ (story.passages[run[run.length - 1]].heels[unit])[1];
  return { unit, first, last, low: Math.min(first, last), high: Math.max(first, last) };
}

/** Where the mark of a haul's strips stands at a position.
 * @param {Story} story @param {number[]} run @param {number} position */
function heelInRun(story, run, position) {
  const { unit, first, low, high } = ends(story, run);
  return held(story.heel(unit, position) ?? first, low, high);
}

/** @param {string} what @param {number} width @param {number} height @param {number} size
 * @param {string} words */
const empty = (what, width, height, size, words) => ({
  html: sheet(`No ${what}`, words, width, height, size, text(2, 1.2 * size, words, { fill: FAINT })),
  x: null,
});

/** Gaps of the haul at hand. @param {Story} story @param {number[]} run @param {string} stage
 * @param {number} width @param {number} height @param {number} size @param {Unit} unit */
export function gapStrip(story, run, stage, width, height, size, unit) {
  const pairs = run.length ? pairsOf(story, run) : [];
  if (!pairs.length) return empty("gaps", width, height, size, `No gap curve: nothing moves in stage ${stage}.`);
  const { unit: moving, low, high, first, last } = ends(story, run);
  const scale = SCALES[unit];
  const limits = story.head.limits.filter((/** @type {any} */ l) => l.of === "gap" && l.stage === stage);
  const asked = Math.max(0, ...limits.map((/** @type {any} */ l) => Math.min(l.value, 300)));
  const top = Math.max(120, 2.2 * asked, 1400 * pairs[0].least);
  const right = 0.6 * width;
  const at = axesOf([low, high], [Math.min(0, 1100 * pairs[0].least), top], [3.4 * size, 2.5 * size, right, height - 1.5 * size]);
  const parts = [grid(at, ticks(0, top * scale.gap, 4), ticks(low * scale.heel, high * scale.heel, 7), size, scale)];
  const values = [...new Set(limits.map((/** @type {any} */ l) => l.value))].sort((a, b) => a - b);
  for (const limit of limits) {
    const pair = pairs.find((each) => each.moving === limit.body);
    if (!pair || limit.value > top) continue;
    const x = at.x(held(limit.heel + pair.shift, low, high));
    parts.push(line([[Math.max(x - 8, at.left), at.y(limit.value)], [Math.min(x + 8, at.right), at.y(limit.value)]],
      { stroke: LIMIT, "stroke-width": 2.4 }));
  }
  pairs.slice(0, 12).reverse().forEach((pair, k, all) => {
    const n = all.length - 1 - k;
    const [colour, dash] = n < NAMED ? LINES[n] : [FAINT, ""];
    if (1000 * pair.least > top) return;
    /** @type {number[][]} */
    const points = pair.pieces.sort((/** @type {number[]} */ a, /** @type {number[]} */ b) => a[0] - b[0])
      .flatMap((/** @type {number[]} */ [a, b, v]) => [[at.x(a), at.y(v)], [at.x(b), at.y(v)]]);
    parts.push(line(points, { stroke: colour, "stroke-width": n < NAMED ? 1.8 : 0.8, "stroke-dasharray": dash,
      "stroke-linejoin": "round" }));
  });
  const left = right + size;
  let base = 1.1 * size;
  /** @param {string} words @param {string} [else_] what is written where there is no room */
  const fitted = (words, else_) => (size * widthOf(words) <= width - left - 27 ? words : shorten(else_ ?? words, 1.22 * size, width - left - 27));
  if (values.length) {
    // What is asked is never rounded down.
    const written = (/** @type {number} */ mm) => (unit === "m" ? number(mm) : inches(mm / 1000, false).replace(" in", ""));
    const span = [...new Set([values[0], values[values.length - 1]].map(written))].join(" to ");
    parts.push(line([[left, base - 4], [left + 22, base - 4]], { stroke: LIMIT, "stroke-width": 2.4 }));
    parts.push(text(left + 27, base, fitted(`asked: at least ${span} ${scale.gapUnit}`, `asked ${span} ${scale.gapUnit}`), { fill: LIMIT, "font-weight": "bold" }));
    base += 1.3 * size;
  }
  const rows = Math.min(NAMED, Math.floor((height - base) / (2.45 * size)) + 1, pairs.length);
  pairs.slice(0, rows).forEach((pair, n) => {
    parts.push(line([[left, base - 4], [left + 22, base - 4]], { stroke: LINES[n][0], "stroke-width": 1.8, "stroke-dasharray": LINES[n][1] }));
    const tail = pair.certified ? "" : ", not certified";
    const [least, heel] = [gap(pair.least, unit), length(pair.at, unit)];
    parts.push(text(left + 27, base, fitted(`${least} at heel ${heel}${tail}`, `${least}, ${heel}${tail}`), { "font-weight": "bold" }));
    const names = `${pair.moving}: ${pair.marks[0]} – ${pair.against}: ${pair.marks[1]}`;
    parts.push(text(left + 27, base + 1.15 * size, shorten(names, size, width - left - 27)));
    base += 2.45 * size;
  });
  const way = last > first ? "→" : "←";
  parts.push(text(2, 1.1 * size, `Gap, ${scale.gapUnit}, along the heel of the ${story.sectionNames[moving]}, ${scale.heelUnit} ${way}`, { "font-weight": "bold" }));
  parts.push(mark(at, "gap"));
  const said = pairs.slice(0, NAMED).map((p) => `${p.moving} to ${p.against} least ${gap(p.least, unit)} at heel ${length(p.at, unit)}`).join("; ");
  return { html: sheet(`Gaps along ${stage}`, said, width, height, size, parts.join("")),
    x: (/** @type {number} */ position) => at.x(heelInRun(story, run, position)) };
}

/** Weight on the lines and how far it is from toppling. @param {Story} story @param {number[]} run
 * @param {string} stage @param {number} width @param {number} height @param {number} size
 * @param {Unit} unit */
export function loadStrip(story, run, stage, width, height, size, unit) {
  const curves = run.map((n) => story.loadsOf.get(n)).filter(Boolean);
  if (!curves.length) return empty("loads", width, height, size, `No load curve: nothing hangs in stage ${stage}.`);
  const { low, high } = ends(story, run);
  const heaviest = Math.max(...curves.flatMap((c) => c.weight)) / 1000;
  const ratios = curves.flatMap((c) => c.ratio).filter((/** @type {number | null} */ r) => r !== null);
  const limits = [...new Set(story.head.limits.filter((/** @type {any} */ l) => l.of === "ratio" && l.stage === stage)
    .map((/** @type {any} */ l) => l.value))];
  const least = ratios.length ? Math.min(...ratios) : 1;
  const most = Math.max(1.5 * Math.max(1, ...limits), Math.min(1.1 * Math.max(1, ...ratios), 3 * least));
  const [right, foot] = [0.6 * width, height - 1.5 * size];
  const middle = (2.5 * size + foot) / 2;
  const upper = axesOf([low, high], [0, 1.2 * heaviest], [3.4 * size, 2.5 * size, right, middle - 0.4 * size]);
  const lower = axesOf([low, high], [Math.min(0, 1.1 * least), most], [3.4 * size, middle + 0.6 * size, right, foot]);
  const scale = { ...SCALES[unit], gap: 1 };
  const along = ticks(low * scale.heel, high * scale.heel, 7);
  const parts = [grid(upper, ticks(0, 1.2 * heaviest, 3), [], size, scale), grid(lower, ticks(0, most, 3), along, size, scale)];
  for (const limit of limits) {
    parts.push(line([[lower.left, lower.y(limit)], [lower.right, lower.y(limit)]], { stroke: LIMIT, "stroke-width": 1.6, "stroke-dasharray": "10 3 2 3" }));
  }
  const weights = curves.flatMap((c) => c.heels.map((/** @type {number} */ h, /** @type {number} */ k) => [upper.x(h), upper.y(c.weight[k] / 1000)]));
  const lean = curves.flatMap((c) => c.heels.map((/** @type {number} */ h, /** @type {number} */ k) => [lower.x(h), lower.y(c.ratio[k] ?? most)]));
  parts.push(line(weights, { stroke: LINES[0][0], "stroke-width": 1.9 }));
  parts.push(line(lean, { stroke: LINES[1][0], "stroke-width": 1.7, "stroke-dasharray": LINES[1][1] }));
  const left = right + size;
  let base = 1.1 * size;
  /** @param {string} words @param {string} colour @param {string} dash */
  const key = (words, colour, dash) => {
    if (colour) parts.push(line([[left, base - 4], [left + 22, base - 4]], { stroke: colour, "stroke-width": 1.8, "stroke-dasharray": dash }));
    // Letters that are not bold take a tenth less.
    for (const piece of wrapped(words, ((colour ? 1 : 1.1) * (width - left - 27)) / size)) {
      parts.push(text(left + 27, base, piece, colour ? { "font-weight": "bold" } : {}));
      base += 1.25 * size;
    }
  };
  const [a, b] = [curves[0], curves[curves.length - 1]];
  const ends_ = [a.weight[0], b.weight[b.weight.length - 1]].map((/** @type {number} */ w) => (w / 1000).toFixed(1));
  key(`weight ${[...new Set(ends_)].join(" to ")} kN`, LINES[0][0], "");
  for (const n of run) {
    const event = story.passages[n].event;
    if (event) key(heightsIn(event, unit), "", "");
  }
  key(ratios.length ? `stability ratio, least ${least.toFixed(2)}` : "stability ratio unlimited", LINES[1][0], LINES[1][1]);
  for (const limit of limits) key(`asked: at least ${number(/** @type {number} */ (limit))}`, LIMIT, "10 3 2 3");
  const shoes = run.flatMap((n) => story.shoesOf.get(n) ?? []);
  if (shoes.length) {
    /** @param {"upper" | "lower"} which */
    const greatest = (which) => (Math.max(...shoes.flatMap((each) => each[which])) / 1000).toFixed(1);
    key(`shoes at ${shoes[0].gust} m/s, at most ${greatest("upper")} kN upper, ${greatest("lower")} kN lower`, "", "");
  } else if ((story.head.guided ?? []).includes(a.lift)) key("shoes: not evaluated", "", "");
  parts.push(text(2, 1.1 * size, `Load, kN, and stability on lift ${a.lift}`, { "font-weight": "bold" }));
  parts.push(mark({ ...lower, top: upper.top }, "load"));
  const said = `weight up to ${heaviest.toFixed(1)} kN; stability ratio at least ${least.toFixed(2)}`;
  return { html: sheet(`Loads along ${stage}`, said, width, height, size, parts.join("")),
    x: (/** @type {number} */ position) => lower.x(heelInRun(story, run, position)) };
}
