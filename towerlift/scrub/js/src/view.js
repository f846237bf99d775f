// The view: one place in the raise, and everything that is shown of it.

import { layOut, findingHtml, findingLine } from "./layout.js";
import * as over from "./overlay.js";
import { Picture } from "./picture.js";
import { axes, closeUp, from, fromAbove, pixel, wholeTower, USUAL_AZIMUTH } from "./standpoint.js";
import { carried, held, Story, TRUE_HANG } from "./story.js";
import { courseStrip, gapStrip, loadStrip } from "./strips.js";
import { escape, MARK, OTHER } from "./svg.js";
import { gap, length } from "./units.js";
import css from "./style.css";

const INSET = 8; // half the slider's handle [px]
const FINE = 0.05; // an arrow key's step [m]
const COARSE = 1; // a page key's step [m]
const STILL_PAUSE = 0.5; // how long a step that does not travel is shown while playing [s]
const SETTLE = 350; // after which a still picture is drawn once more, finer [ms]
const REST = 400; // after which the kernel is told where we are, if it wants to know [ms]
const IDENTITY = [1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1];
const MARKED = [178, 38, 88];
const OPPOSITE = [23, 82, 127];

/**
 * @typedef {{get: (name: string) => any, set: (name: string, value: any) => void,
 *   on: (name: string, heard: (...rest: any[]) => void) => void,
 *   off: (name: string, heard: (...rest: any[]) => void) => void,
 *   send: (message: any) => void, live: boolean}} Host
 */

export class View {
  /** @param {HTMLElement} parent @param {{head: any, arrays: Record<string, any>}} cargo
   * @param {Host} host */
  constructor(parent, { head, arrays }, host) {
    this.host = host;
    this.head = head;
    this.arrays = arrays;
    this.story = new Story(head);
    this.position = 0;
    /** @type {number | null} */
    this.finding = null;
    this.unit = host.get("unit") ?? "m";
    this.text = 13;
    this.cut = true;
    this.colouring = false;
    this.loads = true;
    this.danger = true;
    this.lensed = true;
    this.measuring = false;
    /** @type {number[][]} */
    this.tape = [];
    this.fromName = "whole tower";
    this.playing = 0;
    this.pending = 0;
    this.hovered = -1;
    /** @type {Record<string, import("./story.js").Change>} */
    this.changes = {};
    /** @type {any} */
    this.tried = null;
    this.stats = { frames: 0, sent: 0 };
    this.ends = new AbortController();
    this.layout = layOut(head);
    const style = document.createElement("style");
    style.textContent = css;
    parent.append(style, this.layout.root);
    this.parent = parent;
    this.style = style;
    this.layout.root.style.setProperty("--tlv-height", `${host.get("height") ?? 620}px`);
    this.indexBodies();
    this.at = wholeTower(head, 3, 4);
    this.listen();
    this.listFindings();
    this.fillStandpoints();
    this.resize();
    this.startPicture();
  }

  indexBodies() {
    const { bodies } = this.head;
    /** @type {{body: any, mark: string, part: string}[]} */
    this.members = [];
    /** @type {Map<string, number>} */
    this.memberOf = new Map();
    for (const body of bodies) {
      body.marks.forEach((/** @type {string} */ mark, /** @type {number} */ n) => {
        this.members[body.first + n] = { body, mark, part: body.parts[n] };
        this.memberOf.set(`${body.name}|${mark}`, body.first + n);
      });
    }
    /** @type {Map<string, number>} */
    this.halves = new Map(Object.entries(this.head.hazards.shadows));
  }

  /** Member that a gap names: "band: piece" names a piece of what is fitted on a section.
   * @param {string} body @param {string} mark */
  memberNamed(body, mark) {
    const own = this.memberOf.get(`${body}|${mark}`);
    if (own !== undefined) return own;
    const cut = mark.indexOf(": ");
    return cut < 0 ? undefined : this.memberOf.get(`${mark.slice(0, cut)}|${mark.slice(cut + 2)}`);
  }

  startPicture() {
    const { canvas } = this.layout;
    try {
      this.picture = new Picture(canvas, this.head, this.arrays);
    } catch (error) {
      this.withoutPicture(/** @type {Error} */ (error));
      return;
    }
    this.painted = "";
    this.invalidate();
  }

  /** Where nothing can be drawn: pictures by the kernel, or those the page brought along.
   * @param {Error} error */
  withoutPicture(error) {
    this.picture = null;
    const { canvas, part } = this.layout;
    canvas.hidden = true;
    this.still = document.createElement("img");
    this.still.alt = "The tower in its shaft";
    part(".tlv-sight").prepend(this.still);
    const why = this.host.live
      ? "This browser cannot draw in 3D: still pictures come from the kernel."
      : "This browser cannot draw in 3D, and the page has no kernel to draw for it: what follows in words and strips is complete.";
    part(".tlv-away").textContent = why;
    part(".tlv-away").title = error.message;
    this.invalidate();
  }

  // ------------------------------------------------------------------ what is heard

  listen() {
    const { layout, host } = this;
    const { signal } = this.ends;
    const { root, slider, canvas, part } = layout;
    /** @param {string} name @param {string} event @param {(event: any) => void} heard */
    const on = (name, event, heard) => part(name).addEventListener(event, heard, { signal });
    // A notebook takes arrow keys for itself unless they stop here.
    root.addEventListener("keydown", (event) => this.key(event), { signal });
    root.addEventListener("keyup", (event) => event.stopPropagation(), { signal });
    slider.max = String(this.story.length);
    slider.addEventListener("input", () => this.slide(Number(slider.value)), { signal });
    on(".tlv-play", "click", () => this.play(!this.playing));
    on(".tlv-stage", "change", (event) => this.toStage(event.target.value));
    on(".tlv-hold", "click", () => this.nextHold());
    on(".tlv-unit", "click", () => this.setUnit(this.unit === "m" ? "ft" : "m"));
    on(".tlv-smaller", "click", () => this.setText(this.text - 1));
    on(".tlv-larger", "click", () => this.setText(this.text + 1));
    on(".tlv-from", "change", (event) => this.lookFrom(event.target.value));
    for (const [name, flag] of [["cut", "cut"], ["gaps", "colouring"], ["loads", "loads"],
      ["danger", "danger"], ["lensed", "lensed"], ["tape", "measuring"]]) {
      on(`.tlv-${name}`, "click", () => this.toggle(name, flag));
    }
    on(".tlv-sieve", "change", () => this.listFindings());
    on(".tlv-words", "input", () => this.listFindings());
    on(".tlv-list", "change", (event) => this.choose(Number(event.target.value)));
    on(".tlv-before", "click", () => this.nextFinding(-1));
    on(".tlv-next", "click", () => this.nextFinding(1));
    on(".tlv-course", "pointerdown", (event) => this.point(event));
    part(".tlv-speed").value = "60";
    this.listenToCanvas(canvas, signal);
    this.watcher = new ResizeObserver(() => this.resize());
    this.watcher.observe(root);
    this.heardBack = {
      position: () => this.told("position"),
      finding: () => this.told("finding"),
      unit: () => this.setUnit(host.get("unit")),
      answer: () => this.answered(host.get("what_if_answer")),
      sliders: () => this.offerTries(host.get("what_if_sliders")),
      custom: (/** @type {any} */ message, /** @type {DataView[]} */ buffers) => this.given(message, buffers),
      comm: () => this.kernelGone(),
    };
    host.on("change:position", this.heardBack.position);
    host.on("change:finding", this.heardBack.finding);
    host.on("change:unit", this.heardBack.unit);
    host.on("change:what_if_answer", this.heardBack.answer);
    host.on("change:what_if_sliders", this.heardBack.sliders);
    host.on("msg:custom", this.heardBack.custom);
    host.on("comm_live_update", this.heardBack.comm);
    this.offerTries(host.get("what_if_sliders") ?? []);
  }

  /** @param {HTMLCanvasElement} canvas @param {AbortSignal} signal */
  listenToCanvas(canvas, signal) {
    /** @type {Map<number, number[]>} */
    const down = new Map();
    let moved = 0;
    canvas.addEventListener("pointerdown", (event) => {
      canvas.setPointerCapture(event.pointerId);
      down.set(event.pointerId, [event.offsetX, event.offsetY]);
      moved = 0;
    }, { signal });
    canvas.addEventListener("pointermove", (event) => {
      const before = down.get(event.pointerId);
      if (!before) return this.hover(event.offsetX, event.offsetY);
      const [dx, dy] = [event.offsetX - before[0], event.offsetY - before[1]];
      moved += Math.abs(dx) + Math.abs(dy);
      if (down.size === 2) {
        const [other] = [...down].filter(([id]) => id !== event.pointerId).map(([, at]) => at);
        const was = Math.hypot(before[0] - other[0], before[1] - other[1]);
        const is = Math.hypot(event.offsetX - other[0], event.offsetY - other[1]);
        this.zoom(was / Math.max(is, 1));
      } else if (event.shiftKey || event.buttons === 2 || event.buttons === 4) this.pan(dx, dy);
      else if (moved > 3) this.turn(dx * 0.008, dy * 0.006);
      down.set(event.pointerId, [event.offsetX, event.offsetY]);
    }, { signal });
    canvas.addEventListener("pointerup", (event) => {
      down.delete(event.pointerId);
      if (moved <= 3) this.clicked(event.offsetX, event.offsetY);
    }, { signal });
    canvas.addEventListener("pointercancel", (event) => down.delete(event.pointerId), { signal });
    canvas.addEventListener("pointerleave", () => this.hoverAt(-1, 0, 0), { signal });
    canvas.addEventListener("contextmenu", (event) => event.preventDefault(), { signal });
    canvas.addEventListener("wheel", (event) => {
      // The page must still scroll past: only a view that was clicked, or Ctrl, takes the wheel.
      if (!event.ctrlKey && document.activeElement !== canvas) return;
      event.preventDefault();
      this.zoom(Math.exp(held(event.deltaY, -200, 200) * 0.0015));
    }, { signal, passive: false });
    canvas.addEventListener("webglcontextlost", (event) => {
      event.preventDefault();
      this.lost = true;
      this.layout.part(".tlv-away").textContent = "The graphics were taken away; the picture comes back by itself.";
    }, { signal });
    canvas.addEventListener("webglcontextrestored", () => {
      this.lost = false;
      this.painted = "";
      this.layout.part(".tlv-away").textContent = "";
      this.invalidate();
    }, { signal });
  }

  /** @param {KeyboardEvent} event */
  key(event) {
    event.stopPropagation();
    const target = /** @type {HTMLElement} */ (event.target);
    const { slider, canvas } = this.layout;
    if (target === canvas && this.canvasKey(event)) return event.preventDefault();
    if (target !== slider && target !== canvas) return undefined;
    const steps = { ArrowLeft: -FINE, ArrowDown: -FINE, ArrowRight: FINE, ArrowUp: FINE,
      PageDown: -COARSE, PageUp: COARSE };
    const along = this.story.along(this.position);
    const step = steps[/** @type {keyof typeof steps} */ (event.key)];
    if (step !== undefined) this.slide(along + step * (event.shiftKey ? 10 : 1));
    else if (event.key === "Home") this.slide(0);
    else if (event.key === "End") this.slide(this.story.length);
    else if (event.key === " ") this.play(!this.playing);
    else if (event.key === "n") this.nextFinding(1);
    else if (event.key === "p") this.nextFinding(-1);
    else return undefined;
    return event.preventDefault();
  }

  /** @param {KeyboardEvent} event */
  canvasKey(event) {
    const turns = { ArrowLeft: [-20, 0], ArrowRight: [20, 0], ArrowUp: [0, -12], ArrowDown: [0, 12] };
    const by = turns[/** @type {keyof typeof turns} */ (event.key)];
    if (by && event.shiftKey) this.pan(-by[0], -by[1]);
    else if (by) this.turn(by[0] * 0.008, by[1] * 0.006);
    else if (event.key === "+" || event.key === "=") this.zoom(0.85);
    else if (event.key === "-") this.zoom(1 / 0.85);
    else return false;
    return true;
  }

  /** @param {PointerEvent} event */
  point(event) {
    const box = this.layout.slider.getBoundingClientRect();
    const share = (event.clientX - box.left - INSET) / (box.width - 2 * INSET);
    this.slide(held(share, 0, 1) * this.story.length);
    this.layout.slider.focus();
  }

  // ------------------------------------------------------------------ where we are

  /** @param {number} along */
  slide(along) {
    this.play(false);
    this.goTo(this.story.position(along));
  }

  /** @param {number} position */
  goTo(position) {
    this.position = held(position, 0, this.story.count);
    if (this.tried && this.tried.position !== this.position) this.forgetTries();
    this.invalidate();
    if (this.host.get("follow") && this.host.live) {
      clearTimeout(this.resting);
      this.resting = setTimeout(() => this.tell("position", this.position), REST);
    }
  }

  /** @param {string} name @param {any} value */
  tell(name, value) {
    if (this.host.get(name) === value) return;
    this.stats.sent += 1;
    this.host.set(name, value);
  }

  /** @param {"position" | "finding"} name */
  told(name) {
    const value = this.host.get(name);
    if (name === "position") {
      if (Math.abs(value - this.position) > 1e-9) this.goTo(value);
    } else if (value !== this.finding && value !== null && value !== undefined) this.choose(value);
  }

  /** @param {string} stage */
  toStage(stage) {
    const found = this.story.stages.find((each) => each.name === stage);
    if (found) this.slide(this.story.bounds[found.first]);
  }

  nextHold() {
    const holds = new Map(this.head.stages.map((/** @type {any} */ s) => [s.name, s.holds]));
    const later = this.story.stages.filter((s) => (holds.get(s.name) ?? []).length);
    if (!later.length) return this.say("The plan names no hold point.");
    const next = later.find((s) => s.first > this.position + 1e-9) ?? later[0];
    this.slide(this.story.bounds[next.first]);
    return this.say(`Before stage ${next.name}: ${holds.get(next.name).join(", ")} must be signed.`);
  }

  /** @param {boolean} on */
  play(on) {
    const { part } = this.layout;
    cancelAnimationFrame(this.playing);
    this.playing = 0;
    if (on) {
      if (this.position >= this.story.count) this.position = 0;
      let before = performance.now();
      const step = (/** @type {number} */ now) => {
        const speed = Number(part(".tlv-speed").value);
        this.goTo(this.story.after(this.position, held((now - before) / 1000, 0, 0.5), speed, STILL_PAUSE));
        before = now;
        this.playing = this.position < this.story.count ? requestAnimationFrame(step) : 0;
        if (!this.playing) this.play(false);
      };
      this.playing = requestAnimationFrame(step);
    }
    part(".tlv-play").setAttribute("aria-pressed", String(on));
    part(".tlv-play").textContent = on ? "❚❚ stop" : "▶ play";
  }

  /** Where a view opens: at a finding, else at a position.
   * @param {number | null | undefined} finding @param {number | null} position */
  open(finding, position) {
    if (position) this.goTo(position);
    else if (finding !== null && finding !== undefined) this.choose(finding);
    if (finding === 0 && !position) this.lookFrom("whole tower");
  }

  // ------------------------------------------------------------------ findings

  listFindings() {
    const { part } = this.layout;
    const sieve = part(".tlv-sieve").value;
    const words = part(".tlv-words").value.toLowerCase().split(/\s+/).filter(Boolean);
    if (this.listedFor === undefined && !this.head.counts.fail) {
      part(".tlv-sieve").value = this.head.counts["not evaluated"] ? "not evaluated" : "pass";
      this.listedFor = "";
      return this.listFindings();
    }
    this.listedFor = sieve;
    this.listed = [];
    this.head.findings.forEach((/** @type {any} */ finding, /** @type {number} */ n) => {
      const said = `${findingLine(finding)} ${finding.why} ${finding.remedy.join(" ")} ${finding.source}`.toLowerCase();
      if ((!sieve || finding.verdict === sieve) && words.every((/** @type {string} */ word) => said.includes(word))) this.listed.push(n);
    });
    part(".tlv-list").innerHTML = this.listed.map((n) =>
      `<option value="${n}">${escape(findingLine(this.head.findings[n]))}</option>`).join("");
    part(".tlv-count").textContent = `${this.listed.length} listed`;
    this.showFinding();
    return undefined;
  }

  showFinding() {
    const { part } = this.layout;
    const list = part(".tlv-list");
    list.value = this.finding === null ? "" : String(this.finding);
    part(".tlv-finding").innerHTML = findingHtml(this.finding === null ? null : this.head.findings[this.finding]);
  }

  /** @param {number} n */
  choose(n) {
    const finding = this.head.findings[n];
    if (!finding) return;
    this.finding = n;
    if (!this.listed.includes(n)) {
      this.layout.part(".tlv-sieve").value = finding.verdict;
      this.layout.part(".tlv-words").value = "";
      this.listFindings();
    }
    this.play(false);
    if (finding.position !== null) this.goTo(finding.position);
    else this.invalidate();
    this.showFinding();
    if (finding.where) {
      this.lookAtFinding(finding);
    } else this.lookFrom("whole tower");
    if (this.host.get("follow") && this.host.live) this.tell("finding", n);
  }

  /** @param {any} finding */
  lookAtFinding(finding) {
    const near = this.story.nearest(this.position);
    const close = near && Math.hypot(...near.where.map((v, k) => v - finding.where[k])) < 0.6;
    const along = close ? near.opposite.map((v, k) => v - near.where[k]) : null;
    this.fromName = "";
    this.at = { ...closeUp(finding.where, along), span: 5, cut: 1.2 };
    this.layout.part(".tlv-from").value = "finding";
    this.invalidate();
  }

  /** @param {number} by */
  nextFinding(by) {
    if (!this.listed.length) return;
    const now = this.finding === null ? -1 : this.listed.indexOf(this.finding);
    const next = now < 0 ? 0 : held(now + by, 0, this.listed.length - 1);
    this.choose(this.listed[next]);
  }

  // ------------------------------------------------------------------ where we look from

  fillStandpoints() {
    const names = ["whole tower", "north side", "east side", "south side", "west side", "from above, askew",
      "what moves", "least gap", "plan at the heel", "along the north face", "along the east face",
      "along the south face", "along the west face", ...this.head.standpoints.map((/** @type {any} */ s) => s.name)];
    this.layout.part(".tlv-from").innerHTML = names.map((name) => `<option>${escape(name)}</option>`).join("")
      + '<option value="finding" hidden>the finding</option><option value="own" hidden>a place of your own</option>';
  }

  /** @param {string} name */
  lookFrom(name) {
    this.fromName = name;
    this.layout.part(".tlv-from").value = name;
    this.at = this.standpoint(name) ?? this.at;
    this.invalidate();
  }

  /** @param {string} name @returns {import("./standpoint.js").Standpoint | null} */
  standpoint(name) {
    const { width, height } = this.sightSize();
    const whole = wholeTower(this.head, width, height);
    const sides = { "north side": 0, "east side": 0.5, "south side": 1, "west side": 1.5 };
    if (name === "whole tower") return whole;
    if (name in sides) return { ...whole, azimuth: sides[/** @type {keyof typeof sides} */ (name)] * Math.PI };
    if (name === "from above, askew") return { ...whole, rise: 0.55, span: 1.25 * whole.span };
    const nearest = this.story.nearest(this.position);
    const [n] = this.story.split(this.position);
    const moving = this.story.passages[n].moving;
    if (name === "what moves" || name === "plan at the heel") {
      const s = moving.length ? moving[0] : this.story.passages[n].heels.findIndex(Boolean);
      const heel = s < 0 ? 0 : this.story.heel(s, this.position) ?? 0;
      if (name === "plan at the heel") return fromAbove(this.head, heel + 1);
      const long = s < 0 ? 10 : this.story.sections[s].length;
      const [x, y] = this.head.plumb;
      return { focus: [x, y, heel + long / 2], span: 1.35 * long, azimuth: USUAL_AZIMUTH, rise: 0.16, cut: null };
    }
    if (name === "least gap") {
      return nearest ? { ...closeUp(nearest.where, nearest.opposite.map((v, k) => v - nearest.where[k])) } : whole;
    }
    const face = /^along the (north|east|south|west) face$/.exec(name)?.[1];
    if (face) return this.alongFace(face, nearest);
    const made = this.head.standpoints.find((/** @type {any} */ s) => s.name === name);
    return made ? from(made.eye, made.target) : null;
  }

  /** @param {string} face @param {import("./story.js").Nearest | null} nearest */
  alongFace(face, nearest) {
    const { low, high, plumb } = this.head;
    const z = nearest ? nearest.where[2] : (low[2] + high[2]) / 3;
    const out = { north: [0, 1], east: [1, 0], south: [0, -1], west: [-1, 0] };
    const [dx, dy] = out[/** @type {keyof typeof out} */ (face)];
    const edge = dx + dy > 0 ? high : low;
    const focus = [dx ? edge[0] - 0.45 * dx : plumb[0], dy ? edge[1] - 0.45 * dy : plumb[1], z];
    // Seen with the wall at the left: one looks along it.
    return { focus, span: 3.2, azimuth: Math.atan2(dy, -dx), rise: 0, cut: 1.6 };
  }

  /** @param {number} da @param {number} dr */
  turn(da, dr) {
    const { at } = this;
    this.own();
    const azimuth = at.azimuth + da;
    const rise = held(at.rise + dr, -Math.PI / 2, Math.PI / 2);
    this.at = { ...at, azimuth, rise };
    if (at.eye) {
      // A person turns the head: the eye stays.
      const away = Math.hypot(...at.focus.map((v, k) => v - /** @type {number[]} */ (at.eye)[k]));
      const { towards } = axes(this.at);
      this.at.focus = at.eye.map((v, k) => v - away * towards[k]);
    }
    this.invalidate();
  }

  /** @param {number} dx @param {number} dy */
  pan(dx, dy) {
    const { right, up } = axes(this.at);
    const scale = this.at.span / this.sightSize().height;
    this.own();
    const shift = right.map((v, k) => -dx * scale * v + dy * scale * up[k]);
    this.at = { ...this.at, focus: this.at.focus.map((v, k) => v + shift[k]),
      eye: this.at.eye ? this.at.eye.map((v, k) => v + shift[k]) : this.at.eye };
    this.invalidate();
  }

  /** @param {number} by */
  zoom(by) {
    this.own();
    this.at = { ...this.at, span: held(this.at.span * by, 0.05, 400) };
    this.invalidate();
  }

  own() {
    this.fromName = "";
    this.layout.part(".tlv-from").value = "own";
  }

  // ------------------------------------------------------------------ pointing and measuring

  /** @param {number} x @param {number} y */
  hover(x, y) {
    this.hoverPlace = [x, y];
    if (this.hovering) return;
    this.hovering = setTimeout(() => {
      this.hovering = 0;
      if (!this.picture || this.lost) return;
      const [px, py] = /** @type {number[]} */ (this.hoverPlace);
      this.ready();
      const found = this.inLens(px, py) ? null : this.picture.pick(this.at, px, py);
      this.hoverAt(found ? found.member : -1, px, py);
    }, 60);
  }

  /** @param {number} member @param {number} x @param {number} y */
  hoverAt(member, x, y) {
    const label = this.layout.part(".tlv-hover");
    if (member < 0) label.textContent = "";
    else {
      const { body, mark, part } = this.members[member];
      const gapSaid = this.memberGap(member);
      label.textContent = `${body.name}: ${mark}${part !== mark ? ` (${part})` : ""}`
        + (gapSaid === null ? "" : `, least gap in this haul ${gap(gapSaid, this.unit)}`);
      const { width } = this.sightSize();
      label.style.left = `${Math.min(x + 14, width - 180)}px`;
      label.style.top = `${y + 14}px`;
    }
    if (member !== this.hovered) {
      this.hovered = member;
      this.painted = "";
      this.invalidate();
    }
  }

  /** @param {number} x @param {number} y */
  clicked(x, y) {
    if (!this.picture || this.lost) return;
    this.ready();
    const found = this.picture.pick(this.at, x, y);
    if (!this.measuring || !found) return;
    this.tape = this.tape.length === 1 ? [this.tape[0], found.place] : [found.place];
    if (this.tape.length === 2) this.say(this.tapeWords());
    this.invalidate();
  }

  tapeWords() {
    const [a, b] = this.tape;
    const d = a.map((v, k) => b[k] - v);
    const all = length(Math.hypot(...d), this.unit);
    return `${all} (east ${length(d[0], this.unit)}, north ${length(d[1], this.unit)}, up ${length(d[2], this.unit)})`;
  }

  /** Least gap of a member in the haul at hand, by Python. @param {number} member */
  memberGap(member) {
    const run = this.story.haulNear(this.story.split(this.position)[0]);
    const rows = this.head.memberGaps?.[run[0] ?? -1];
    const found = rows?.find((/** @type {number[]} */ row) => row[0] === member);
    return found ? found[1] : null;
  }

  // ------------------------------------------------------------------ settings

  /** @param {string} name @param {string} flag */
  toggle(name, flag) {
    const self = /** @type {any} */ (this);
    self[flag] = !self[flag];
    this.layout.part(`.tlv-${name}`).setAttribute("aria-pressed", String(self[flag]));
    if (flag === "measuring") {
      this.tape = [];
      this.layout.canvas.classList.toggle("tlv-measuring", this.measuring);
    }
    this.painted = "";
    this.invalidate();
  }

  /** @param {"m" | "ft"} unit */
  setUnit(unit) {
    this.unit = unit;
    this.layout.part(".tlv-unit").textContent = unit;
    this.invalidate();
  }

  /** @param {number} text */
  setText(text) {
    this.text = held(text, 9, 30);
    this.layout.root.style.setProperty("--tlv-text", `${this.text}px`);
    this.resize();
  }

  /** @param {string} words */
  say(words) {
    this.layout.part(".tlv-unseen").textContent = words;
    this.layout.part(".tlv-now-words").textContent = words;
    this.saidUntil = performance.now() + 4000;
  }

  // ------------------------------------------------------------------ what if

  /** @param {any[]} sliders */
  offerTries(sliders) {
    const box = this.layout.part(".tlv-tries");
    box.hidden = !sliders?.length || !this.host.live;
    if (box.hidden) return;
    const rows = this.layout.part(".tlv-sliders");
    rows.textContent = "";
    /** @type {Record<string, number>} */
    this.tries = {};
    for (const each of sliders) {
      const row = document.createElement("label");
      const value = each.value ?? 0;
      /** @type {Record<string, number>} */ (this.tries)[each.key] = value;
      row.innerHTML = `<span>${escape(each.label)}</span><input type="range" min="${each.min}" max="${each.max}"`
        + ` step="${each.step}" value="${value}" data-key="${escape(each.key)}"><output>${value} ${escape(each.unit)}</output>`;
      const input = /** @type {HTMLInputElement} */ (row.querySelector("input"));
      input.addEventListener("input", () => {
        /** @type {Record<string, number>} */ (this.tries)[each.key] = Number(input.value);
        /** @type {HTMLOutputElement} */ (row.querySelector("output")).textContent = `${input.value} ${each.unit}`;
        this.ask();
      });
      row.className = "tlv-row";
      rows.append(row);
    }
  }

  /** Only the newest request is out: the next goes when its answer is in. */
  ask() {
    this.wanted = { position: this.position, values: { ...this.tries } };
    if (this.asked) return;
    const number = (this.number = (this.number ?? 0) + 1);
    this.asked = number;
    this.tried = this.wanted;
    const request = { number, ...this.wanted };
    this.wanted = null;
    this.stats.sent += 1;
    this.host.set("what_if_request", request);
  }

  /** @param {any} answer */
  answered(answer) {
    if (!answer?.number) return;
    if (answer.number === this.asked) this.asked = 0;
    this.changes = {};
    for (const [name, [tiltX, tiltY, yaw, driftX, driftY]] of Object.entries(/** @type {any} */ (answer.poses ?? {}))) {
      this.changes[name] = { tiltX, tiltY, yaw, driftX, driftY };
    }
    this.answerGap = answer.gap ?? null;
    this.layout.part(".tlv-answer").innerHTML = `<table><tbody>${(answer.rows ?? []).map((/** @type {any} */ row) =>
      `<tr><th>${escape(row.name)}</th><td>${escape(row.value)}</td><td>${escape(row.verdict ?? "")}</td></tr>`).join("")}</tbody></table>`;
    this.invalidate();
    if (this.wanted) this.ask();
  }

  forgetTries() {
    this.tried = null;
    this.changes = {};
    this.answerGap = null;
    this.layout.part(".tlv-answer").textContent = "";
  }

  // ------------------------------------------------------------------ the kernel

  kernelGone() {
    this.host.live = false;
    this.layout.part(".tlv-tries").hidden = true;
    this.layout.part(".tlv-away").textContent = "The kernel that reckoned this has gone: run the cell again before you rely on it.";
    this.layout.root.setAttribute("data-stale", "true");
  }

  /** @param {any} message @param {DataView[]} buffers */
  given(message, buffers) {
    if (message.give !== "still" || !this.still) return;
    this.stillOut = false;
    const url = URL.createObjectURL(new Blob([/** @type {any} */ (buffers[0])], { type: "image/png" }));
    const old = this.still.src;
    this.still.src = url;
    if (old.startsWith("blob:")) URL.revokeObjectURL(old);
    if (message.number !== this.stillNumber) this.askStill();
  }

  askStill() {
    if (!this.still || !this.host.live) return;
    const number = this.stillNumber = Math.round(1e6 * this.position);
    if (this.stillOut || this.stillShown === number) return;
    this.stillOut = true;
    this.stillShown = number;
    const { width, height } = this.sightSize();
    this.host.send({ ask: "still", number, position: this.position, size: [width, height] });
  }

  // ------------------------------------------------------------------ drawing

  sightSize() {
    const { width, height } = this.sight ?? { width: 400, height: 600 };
    return { width, height };
  }

  resize() {
    const { root, part } = this.layout;
    const sight = part(".tlv-sight");
    const tall = Number(this.host.get("height") ?? 620);
    const wide = root.clientWidth;
    if (!wide) return;
    const stacked = wide <= 760;
    const head = part(".tlv-head").offsetHeight;
    const high = stacked ? Math.min(tall - head, 0.9 * wide) : tall - head;
    sight.style.height = `${Math.max(high, 200)}px`;
    part(".tlv-side").style.height = stacked ? "" : `${Math.max(high, 200)}px`;
    this.sight = { width: Math.max(sight.clientWidth, 50), height: Math.max(sight.clientHeight, 50) };
    const size = 0.84 * this.text;
    const room = Math.max(part(".tlv-way").clientWidth, 200);
    this.stripSize = { room, size };
    this.course = courseStrip(this.story, room, Math.max(66, 6.2 * size), size, INSET);
    part(".tlv-course").innerHTML = this.course.html;
    this.stripsOf = "";
    if (this.fromName) this.at = this.standpoint(this.fromName) ?? this.at;
    this.invalidate();
  }

  invalidate() {
    clearTimeout(this.settling);
    this.settled = false;
    if (!this.pending) this.pending = requestAnimationFrame(() => this.frame());
  }

  /** Everything that follows the slider, in one go. */
  frame() {
    this.pending = 0;
    if (this.fromName === "least gap" || this.fromName === "what moves" || this.fromName === "plan at the heel") {
      this.at = this.standpoint(this.fromName) ?? this.at;
    }
    this.now = this.gather();
    this.draw();
    this.showStrips();
    this.showWords();
    this.drawOver();
    this.stats.frames += 1;
    if (this.picture?.software && !this.playing) this.settling = setTimeout(() => this.settle(), SETTLE);
  }

  /** The last picture once more with finer lines, now that nothing waits for it. */
  settle() {
    if (!this.picture || this.lost || this.pending) return;
    this.settled = true;
    this.draw();
  }

  gather() {
    const { story, position } = this;
    const [n, share] = story.split(position);
    const passage = story.passages[n];
    const nearest = this.answerGap
      ? { moving: this.answerGap.moving, against: this.answerGap.against, mark: this.answerGap.mark,
        oppositeMark: this.answerGap.opposite_mark, gap: this.answerGap.least, certified: true,
        where: this.answerGap.where, opposite: this.answerGap.opposite }
      : story.nearest(position);
    return { n, share, passage, nearest, loads: story.loads(position), run: story.haulNear(n) };
  }

  /** @param {string} name @returns {ArrayLike<number> | null} */
  poseOf(name) {
    const { story, position } = this;
    const section = story.sectionNames.indexOf(name);
    if (section >= 0) return story.pose(section, position, this.changes[name] ?? TRUE_HANG);
    const winder = this.head.winders.find((/** @type {any} */ each) => each.name === name);
    if (!winder) return IDENTITY;
    const { passage } = /** @type {any} */ (this.now);
    const rate = passage.moving.length && passage.lift !== null ? winder.turns[passage.lift] ?? 0 : 0;
    const angle = rate ? rate * (story.heel(passage.moving[0], position) ?? 0) : 0;
    const [c, s] = [Math.cos(angle), Math.sin(angle)];
    return [c, s, 0, 0, -s, c, 0, 0, 0, 0, 1, 0, ...winder.at, 1];
  }

  /** Make sure that what is picked is what is shown. */
  ready() {
    this.now = this.gather();
    this.paint();
    this.picture?.place((name) => this.poseOf(name));
  }

  paint() {
    const { picture, now } = this;
    if (!picture || !now) return;
    const sees = Picture.seesGround(this.at);
    const pair = now.nearest
      ? [this.memberNamed(now.nearest.moving, now.nearest.mark), this.memberNamed(now.nearest.against, now.nearest.oppositeMark)]
      : [];
    const key = [now.n, this.cut, sees, this.colouring && now.run[0], this.hovered, ...pair].join();
    if (key === this.painted) return;
    this.painted = key;
    const rows = this.colouring ? this.head.memberGaps?.[now.run[0] ?? -1] ?? [] : [];
    const byGap = new Map(rows);
    const plain = [222, 220, 214];
    picture.paint((member) => {
      const { body, part } = this.members[member];
      if (body.seen[now.n] !== "1") return null;
      if (part === "wall" && body.name === "masonry" && this.cut) return null;
      if (part === "ground" && !sees) return null;
      if (member === pair[0]) return MARKED;
      const colour = picture.colours.subarray(3 * member, 3 * member + 3);
      if (this.colouring && part !== "ground" && part !== "people") {
        const least = byGap.get(member);
        return least === undefined ? plain : over.gapColour(least);
      }
      if (member === pair[1]) return body.kind === "shaft" ? [150, 176, 200] : OPPOSITE;
      if (member === this.hovered) return [0, 1, 2].map((k) => 0.55 * colour[k] + 0.45 * 255);
      return colour;
    });
  }

  draw() {
    const { picture, now } = this;
    if (!picture) return this.askStill();
    if (this.lost || !now) return undefined;
    const { width, height } = this.sightSize();
    const ratio = picture.software ? (this.settled ? 2 : 1) : Math.min(globalThis.devicePixelRatio || 1, 2);
    picture.setSize(width, height, ratio);
    this.paint();
    picture.place((name) => this.poseOf(name));
    picture.setRopes(this.ropes());
    this.setDanger();
    picture.render(this.at, { x: 0, y: 0, width, height }, { clear: true, near: null });
    const lens = this.lensFrame();
    if (lens) picture.render(lens.at, lens.frame, { clear: true, near: 2.5 * lens.at.span });
    return undefined;
  }

  ropes() {
    const { now, story, position } = this;
    const poses = story.sections.map((section, s) => story.pose(s, position, this.changes[section.name] ?? TRUE_HANG));
    const lift = now?.passage.lift;
    const found = [];
    for (const rope of this.head.ropes) {
      if (rope.lift !== lift) continue;
      const points = rope.path.map(([rides, x, y, z]) => {
        if (rides < 0) return [x, y, z];
        const pose = poses[rides];
        return pose ? carried(pose, [x, y, z]) : null;
      });
      if (points.every(Boolean)) found.push({ points, radius: rope.radius });
    }
    return found;
  }

  setDanger() {
    const { picture, now } = this;
    const moving = now?.passage.moving ?? [];
    if (!picture || !this.danger || !moving.length || !now) return picture?.setHazards(null, null);
    const [x, y] = this.head.plumb;
    const lowest = Math.min(...moving.map((s) => this.story.heel(s, this.position) ?? Infinity));
    const half = Math.max(...moving.map((s) => this.halves.get(this.story.sectionNames[s]) ?? 0));
    return picture.setHazards({ x, y, half, low: this.head.low[2], high: lowest }, now.passage.lift);
  }

  lensFrame() {
    const nearest = this.now?.nearest;
    if (!this.lensed || !nearest || !this.picture) return null;
    const { width, height } = this.sightSize();
    const side = Math.round(held(0.4 * width, 120, Math.min(240, 0.36 * height)));
    const at = closeUp(nearest.where, nearest.opposite.map((v, k) => v - nearest.where[k]));
    return { at, frame: { x: width - side, y: 0, width: side, height: side } };
  }

  /** @param {number} x @param {number} y */
  inLens(x, y) {
    const lens = this.lensFrame();
    return lens !== null && x > lens.frame.x && y < lens.frame.height;
  }

  // ------------------------------------------------------------------ what is written

  drawOver() {
    const { now, at, unit } = this;
    if (!now) return;
    const { width, height } = this.sightSize();
    const size = 0.86 * this.text;
    const parts = [];
    if (this.picture) {
      parts.push(over.heightScale(at, width, height, size, unit), over.northMark(at, width, height, size));
      const standing = this.story.sections.flatMap((section, s) => {
        const heel = this.story.heel(s, this.position);
        const half = this.halves.get(section.name) ?? 1;
        const state = `${now.passage.states[s]}${now.passage.carriers[s] === "ground" ? "" : ` on ${now.passage.carriers[s]}`}`;
        return heel === null ? [] : [{ ...section, heel, half, state }];
      });
      parts.push(over.sectionMarks(at, standing, this.head.plumb, width, height, size, unit));
      if (this.loads) parts.push(over.loadArrows(at, now.loads, width, height, size));
      if (now.nearest) parts.push(over.ring(at, now.nearest.where, width, height));
      const finding = this.finding === null ? null : this.head.findings[this.finding];
      if (finding?.where && finding.position !== null && Math.abs(finding.position - this.position) < 1e-6) {
        const p = pixel(at, finding.where, width, height);
        if (p) parts.push(`<path d="M${p[0]} ${p[1] - 16}l7 -13h-14z" fill="${MARK}" stroke="#fff" stroke-width="1.5"/>`);
      }
      if (this.tape.length === 2) parts.push(over.distanceLine(at, this.tape[0], this.tape[1], length(Math.hypot(...this.tape[0].map((v, k) => v - this.tape[1][k])), unit), width, height, OTHER));
      else if (this.tape.length === 1) parts.push(over.ring(at, this.tape[0], width, height));
      if (this.colouring) parts.push(over.gapLegend(height, size));
    }
    this.drawLens(parts);
    this.layout.over.setAttribute("viewBox", `0 0 ${width} ${height}`);
    this.layout.over.setAttribute("font-size", size.toFixed(1));
    this.layout.over.innerHTML = parts.join("");
  }

  /** @param {string[]} parts */
  drawLens(parts) {
    const box = this.layout.part(".tlv-lens");
    const nearest = this.now?.nearest;
    const lens = this.lensFrame();
    if (!nearest || !this.lensed) {
      box.style.display = "none";
      return;
    }
    const words = gap(nearest.gap, this.unit);
    const side = lens ? lens.frame.width : 220;
    box.style.display = "";
    box.style.width = `${side + 1}px`;
    box.style.top = `${lens ? lens.frame.height : 0}px`;
    box.innerHTML = `<p><b>least gap ${escape(words)}</b>${nearest.certified ? "" : ", not certified"}</p>`
      + `<p class="tlv-a" title="${escape(nearest.mark)}">${escape(nearest.moving)}: ${escape(nearest.mark)}</p>`
      + `<p class="tlv-b" title="${escape(nearest.oppositeMark)}">${escape(nearest.against)}: ${escape(nearest.oppositeMark)}</p>`;
    if (!lens) return;
    const { frame, at } = lens;
    const inside = over.distanceLine(at, nearest.where, nearest.opposite, words, frame.width, frame.height, MARK);
    parts.push(`<svg x="${frame.x}" y="${frame.y}" width="${frame.width}" height="${frame.height}" overflow="hidden">${inside}`
      + `<rect x="0.5" y="0.5" width="${frame.width - 1}" height="${frame.height - 1}" fill="none" stroke="${MARK}"/></svg>`);
  }

  showStrips() {
    const { now, layout } = this;
    if (!now || !this.stripSize) return;
    const key = `${now.passage.stage}|${now.run.join()}`;
    const { room, size } = this.stripSize;
    if (key !== this.stripsOf) {
      this.stripsOf = key;
      const gaps = gapStrip(this.story, now.run, now.passage.stage, room, Math.max(96, 9.2 * size), size);
      const loads = loadStrip(this.story, now.run, now.passage.stage, room, Math.max(96, 9.2 * size), size);
      layout.part(".tlv-gapstrip").innerHTML = gaps.html;
      layout.part(".tlv-loadstrip").innerHTML = loads.html;
      this.marks = [["course", this.course], ["gap", gaps], ["load", loads]].map(([name, strip]) => ({
        name, x: /** @type {any} */ (strip).x, group: layout.root.querySelector(`.tlv-now-${name}`) }));
    }
    for (const { name, x, group } of this.marks ?? []) {
      if (!x || !group) continue;
      const place = x(this.position);
      group.setAttribute("transform", `translate(${place.toFixed(1)} 0)`);
      const label = group.lastElementChild;
      let words = "";
      if (name === "gap" && now.nearest && now.passage.moving.length) words = gap(now.nearest.gap, this.unit);
      else if (name === "load" && now.loads) words = `${(now.loads.weight / 1000).toFixed(1)} kN${now.loads.ratio === null ? "" : `, ratio ${now.loads.ratio.toFixed(2)}`}`;
      label.textContent = words;
      const late = place > 0.42 * room;
      label.setAttribute("x", late ? "-4" : "4");
      label.setAttribute("text-anchor", late ? "end" : "start");
    }
  }

  showWords() {
    const { now, layout, story } = this;
    if (!now) return;
    const along = story.along(this.position);
    const { slider } = layout;
    if (Math.abs(Number(slider.value) - along) > 1e-9) slider.value = String(along);
    let words = now.passage.words;
    if (now.passage.moving.length) words += `; now ${length(story.heel(now.passage.moving[0], this.position) ?? 0, this.unit)}`;
    if (now.passage.event) words += ` (${now.passage.event})`;
    const said = now.nearest ? `${words}. Least gap ${gap(now.nearest.gap, this.unit)}, ${now.nearest.moving} ${now.nearest.mark} to ${now.nearest.against} ${now.nearest.oppositeMark}.` : words;
    slider.setAttribute("aria-valuetext", said);
    if (!(performance.now() < (this.saidUntil ?? 0))) layout.part(".tlv-now-words").textContent = this.timeWords(words);
    if (layout.part(".tlv-stage").value !== now.passage.stage) layout.part(".tlv-stage").value = now.passage.stage;
    const rows = story.sections.map((section, s) => {
      const heel = story.heel(s, this.position);
      const state = now.passage.states[s];
      const on = now.passage.carriers[s];
      const place = heel === null ? "not built" : `heel ${length(heel, this.unit)}`;
      return `<tr><th>${escape(section.name)}</th><td>${place}</td><td>${escape(state ?? "")}</td><td>${on ? `on ${escape(on)}` : ""}</td></tr>`;
    });
    const html = rows.join("");
    if (html !== this.statesShown) {
      this.statesShown = html;
      layout.part(".tlv-states tbody").innerHTML = html;
    }
  }

  /** @param {string} words */
  timeWords(words) {
    const { now } = this;
    if (!now?.passage.begins) return words;
    // Written as the plan writes it, in the site's own time.
    const [, day, hours, minutes, zone] = /^(\S+)T(\d+):(\d+)[^+-]*(.*)$/.exec(now.passage.begins) ?? [];
    if (!day) return words;
    const total = Number(hours) * 60 + Number(minutes) + Math.floor((now.share * now.passage.lasts) / 60);
    const clock = `${String(Math.floor(total / 60) % 24).padStart(2, "0")}:${String(total % 60).padStart(2, "0")}`;
    void zone;
    return `${day} ${clock}  ${words}`;
  }

  // ------------------------------------------------------------------ the end

  dispose() {
    this.ends.abort();
    this.watcher?.disconnect();
    cancelAnimationFrame(this.pending);
    cancelAnimationFrame(this.playing);
    clearTimeout(this.settling);
    clearTimeout(this.resting);
    clearTimeout(this.hovering);
    const { host, heardBack } = this;
    if (heardBack) {
      host.off("change:position", heardBack.position);
      host.off("change:finding", heardBack.finding);
      host.off("change:unit", heardBack.unit);
      host.off("change:what_if_answer", heardBack.answer);
      host.off("change:what_if_sliders", heardBack.sliders);
      host.off("msg:custom", heardBack.custom);
      host.off("comm_live_update", heardBack.comm);
    }
    this.picture?.dispose();
    this.picture = null;
    this.style.remove();
    this.layout.root.remove();
  }
}
