// The view: one place in the raise, and everything that is shown of it.

import * as over from "./overlay.js";
import { INSET, listen } from "./controls.js";
import { choose, listFindings } from "./findings.js";
import { askGaps, askStill, withoutPicture } from "./kernel.js";
import { layOut } from "./layout.js";
import { listBodies } from "./members.js";
import { standpoint } from "./looks.js";
import { Picture } from "./picture.js";
import { axes, closeUp, pixel, wholeTower } from "./standpoint.js";
import { Story, TRUE_HANG, carried, held } from "./story.js";
import { courseStrip } from "./strips.js";
import { escape } from "./svg.js";
import { triedElsewhere } from "./tries.js";
import { drawOver, showStrips, showWords } from "./written.js";
import css from "./style.css";

const STILL_PAUSE = 0.5; // how long a step that does not travel is shown while playing [s]
const LENS_NEAREST = 0.45; // least height that the lens shows [m]
const SETTLE = 350; // after which a still picture is drawn once more, finer [ms]
const LATEST = 3000; // until which what can wait waits for the first picture [ms]
const REST = 400; // after which the kernel is told where we are, if it wants to know [ms]
const IDENTITY = [1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1];
const MARKED = [178, 38, 88];
const OPPOSITE = [23, 82, 127];
const AFAR = 1500; // a page so wide is on a projector, and read from afar [px]
const LETTERS = { near: 13, afar: 16 }; // [px]
const CHOSEN = [244, 196, 48];

/**
 * @typedef {{get: (name: string) => any, set: (name: string, value: any) => void,
 *   on: (name: string, heard: (...rest: any[]) => void) => void,
 *   off: (name: string, heard: (...rest: any[]) => void) => void,
 *   send: (message: any) => void, live: boolean, stills?: () => Still[],
 *   begun?: () => void}} Host
 * @typedef {{position: number, words: string, png: string}} Still a picture in base 64
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
    this.text = parent.clientWidth > AFAR ? LETTERS.afar : LETTERS.near;
    this.textChosen = false;
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
    /** Member chosen from the list or by a click; -1 for none. */
    this.chosen = -1;
    /** @type {Map<string, Map<number, {low: number[], high: number[]}>>} */
    this.boxes = new Map();
    this.membersOf = "";
    /** First passages of the hauls in which the kernel was asked for every piece's gap, and has
     * told them. @type {Set<number>} */
    this.gapsAsked = new Set();
    /** @type {Set<number>} */
    this.gapsMeasured = new Set();
    /** @type {Record<string, import("./story.js").Change>} */
    this.changes = {};
    /** @type {any} */
    this.tried = null;
    this.stats = { frames: 0, sent: 0 };
    /** @type {Picture | null} */
    this.picture = null;
    this.lost = false;
    this.painted = this.marked = "";
    /** @type {any} */
    this.answerGap = null;
    /** What the lines carry in what is tried. @type {any} */
    this.answerLoads = null;
    /** @type {Map<number, Map<number, number>>} */
    this.leasts = new Map();
    /** @type {{at: number[], force: number[], name: string}[]} */
    this.arrows = [];
    /** @type {any} */
    this.wanted = null;
    this.asked = 0;
    this.asks = 0;
    /** @type {Record<string, number>} */
    this.tries = {};
    /** Findings in the list. @type {number[]} */
    this.listed = [];
    this.unlisted = true;
    this.begun = false;
    /** Comes to what waits for the first picture, even where that does not come. */
    this.beginning = setTimeout(() => this.begin(), LATEST);
    this.rehearsed = false;
    /** @type {HTMLImageElement | null} */
    this.still = null;
    this.stillOut = false;
    /** Pictures that the page brought along, first to last. @type {Still[]} */
    this.brought = [];
    this.stillNumber = -1;
    this.stillShown = -1;
    /** @type {number[]} */
    this.hoverPlace = [0, 0];
    this.hovering = 0;
    this.settled = false;
    this.statesShown = "";
    /** @type {string | undefined} */
    this.listedFor = undefined;
    this.stripsOf = "";
    /** @type {{name: string, x: ((position: number) => number) | null, group: Element | null}[]} */
    this.marks = [];
    /** @type {ReturnType<View["gather"]> | null} */
    this.now = null;
    this.ends = new AbortController();
    this.layout = layOut(head);
    const style = document.createElement("style");
    // The picture that a notebook keeps for when there is no view is hidden while there is one.
    const key = host.get("key");
    style.textContent = key ? `${css}\n.towerlift-${key} { display: none; }` : css;
    parent.append(style, this.layout.root);
    this.parent = parent;
    this.style = style;
    this.layout.root.style.setProperty("--tlv-text", `${this.text}px`);
    this.layout.root.style.setProperty("--tlv-height", `${host.get("height") ?? 620}px`);
    this.indexBodies();
    this.at = wholeTower(head, 3, 4);
    // First of all, so that the graphics make ready while the page is laid out.
    this.startPicture();
    listen(this);
    this.fillStandpoints();
    this.resize();
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
      withoutPicture(this, /** @type {Error} */ (error));
      return;
    }
    this.painted = "";
    this.invalidate();
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
    if (this.tried && this.tried.position !== this.position) triedElsewhere(this);
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
    } else if (value !== this.finding && value !== null && value !== undefined) choose(this, value);
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
    else if (finding !== null && finding !== undefined) choose(this, finding);
    else {
      // Nothing asked for: at the worst that has a place, seen as a whole.
      const worst = this.head.findings.findIndex((/** @type {any} */ f) => f.where && f.position !== null);
      if (worst < 0) return;
      choose(this, worst);
      this.lookFrom("whole tower");
    }
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
    this.at = standpoint(this, name) ?? this.at;
    this.invalidate();
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
    this.stripsOf = "";
    listFindings(this);
    this.invalidate();
  }

  /** @param {number} text */
  setText(text) {
    this.text = held(text, 9, 30);
    this.textChosen = true;
    this.layout.root.style.setProperty("--tlv-text", `${this.text}px`);
    this.resize();
  }

  /** @param {string} words */
  say(words) {
    this.layout.part(".tlv-unseen").textContent = words;
    this.layout.part(".tlv-now-words").textContent = words;
    this.saidUntil = performance.now() + 4000;
  }

  // ------------------------------------------------------------------ drawing

  /** Where a point of the shaft is in the picture. @param {number[]} point */
  pixelOf(point) {
    const { width, height } = this.sightSize();
    return pixel(this.at, point, width, height);
  }

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
    if (!this.textChosen) {
      this.text = wide > AFAR ? LETTERS.afar : LETTERS.near;
      root.style.setProperty("--tlv-text", `${this.text}px`);
    }
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
    if (this.fromName) this.at = standpoint(this, this.fromName) ?? this.at;
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
      this.at = standpoint(this, this.fromName) ?? this.at;
    }
    this.now = this.gather();
    this.draw();
    if (!this.begun) {
      this.begun = true;
      clearTimeout(this.beginning);
      this.beginning = setTimeout(() => this.begin());
    }
    showStrips(this);
    showWords(this);
    drawOver(this);
    this.stats.frames += 1;
    if (this.picture?.software && !this.playing) this.settling = setTimeout(() => this.settle(), SETTLE);
  }

  /** What takes as long as the first picture and can wait until that is seen: long lists, and
   * what the kernel does beside. */
  begin() {
    if (!this.unlisted) return;
    this.unlisted = false;
    listFindings(this);
    listBodies(this);
    this.host.begun?.();
  }

  /** The last picture once more with finer lines, now that nothing waits for it. */
  settle() {
    if (!this.picture || this.lost || this.pending) return;
    if (!this.rehearsed) this.rehearse();
    this.settled = true;
    this.draw();
    this.keep();
  }

  keep() {
    const { width, height } = this.sightSize();
    this.picture?.keep(this.at, { x: 0, y: 0, width, height }, true);
  }

  /** Draw once as when the slider moves: what is drawn for the first time takes longest, and
   * here nobody waits for it. It is not shown: the finer picture follows in the same go. */
  rehearse() {
    this.rehearsed = true;
    this.keep();
    this.draw();
  }

  /** Least gap of every member that is the nearest of its pair somewhere in a haul.
   * @param {number[]} run @returns {Map<number, number>} */
  leastByMember(run) {
    const known = this.leasts.get(run[0]);
    if (known) return known;
    /** @type {Map<number, number>} */
    const least = new Map();
    const note = (/** @type {number | undefined} */ member, /** @type {number} */ metres) => {
      if (member !== undefined) least.set(member, Math.min(metres, least.get(member) ?? Infinity));
    };
    for (const n of run) {
      for (const curve of this.story.gapsOf.get(n) ?? []) {
        curve.least.forEach((/** @type {number} */ metres, /** @type {number} */ k) => {
          note(this.memberNamed(curve.moving, curve.marks[k]), metres);
          note(this.memberNamed(curve.against, curve.oppositeMarks[k]), metres);
        });
      }
    }
    this.leasts.set(run[0], least);
    return least;
  }

  /** Where the chosen finding is, while the raise stands there. @returns {number[] | null} */
  placeOfFinding() {
    const finding = this.finding === null ? null : this.head.findings[this.finding];
    if (!finding || finding.position === null) return null;
    return Math.abs(finding.position - this.position) < 1e-6 ? finding.where : null;
  }

  gather() {
    const { story, position } = this;
    const [n, share] = story.split(position);
    const passage = story.passages[n];
    const nearest = this.answerGap
      ? { moving: this.answerGap.moving, against: this.answerGap.against, mark: this.answerGap.mark,
        oppositeMark: this.answerGap.opposite_mark, gap: this.answerGap.least, certified: true,
        where: this.answerGap.where, opposite: this.answerGap.opposite }
      : story.nearest(position, this.placeOfFinding());
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

  /** Whether it moves along this passage, or is tried out of true. @param {string} name */
  moves(name) {
    const { passage } = /** @type {any} */ (this.now);
    if (name in this.changes) return true;
    if (passage.moving.some((/** @type {number} */ s) => this.story.sectionNames[s] === name)) return true;
    const winder = this.head.winders.find((/** @type {any} */ each) => each.name === name);
    return Boolean(passage.moving.length && winder?.turns[passage.lift]);
  }

  /** Make sure that what is picked is what is shown. */
  ready() {
    this.now = this.gather();
    this.paint();
    this.picture?.place((name) => this.poseOf(name), (name) => this.moves(name), false);
  }

  paint() {
    const { picture, now } = this;
    if (!picture || !now) return;
    const sees = Picture.seesGround(this.at);
    const pair = now.nearest
      ? [this.memberNamed(now.nearest.moving, now.nearest.mark), this.memberNamed(now.nearest.against, now.nearest.oppositeMark)]
      : [];
    const key = [now.n, this.cut, sees, this.colouring && now.run[0]].join();
    const marked = [this.hovered, this.chosen, ...pair].join();
    if (key === this.painted && marked === this.marked) return;
    if (key !== this.painted) this.paintMembers(picture, now, sees);
    this.painted = key;
    this.marked = marked;
    const [moving, against] = pair;
    const marks = [];
    if (!this.colouring && this.hovered >= 0) {
      const colour = picture.colours.subarray(3 * this.hovered, 3 * this.hovered + 3);
      marks.push({ member: this.hovered, colour: [0, 1, 2].map((k) => 0.55 * colour[k] + 0.45 * 255) });
    }
    if (!this.colouring && against !== undefined) {
      const stone = this.members[against].body.kind === "shaft";
      marks.push({ member: against, colour: stone ? [150, 176, 200] : OPPOSITE });
    }
    if (moving !== undefined) marks.push({ member: moving, colour: MARKED });
    if (this.chosen >= 0) marks.push({ member: this.chosen, colour: CHOSEN });
    picture.mark(marks);
  }

  /** @param {Picture} picture @param {ReturnType<View["gather"]>} now @param {boolean} sees the ground */
  paintMembers(picture, now, sees) {
    if (this.colouring) askGaps(this);
    const byGap = this.colouring ? this.leastByMember(now.run) : new Map();
    const plain = over.bytesOf(over.UNMEASURED);
    picture.paint((member) => {
      const { body, part } = this.members[member];
      if (body.seen[now.n] !== "1") return null;
      if (part === "wall" && body.name === "masonry" && this.cut) return null;
      if (part === "ground" && !sees) return null;
      if (this.colouring && part !== "ground" && part !== "people") {
        const least = byGap.get(member);
        return least === undefined ? plain : over.gapColour(least);
      }
      return picture.colours.subarray(3 * member, 3 * member + 3);
    });
  }

  draw() {
    const { picture, now } = this;
    if (!picture) return askStill(this);
    if (this.lost || !now) return undefined;
    const { width, height } = this.sightSize();
    const dense = globalThis.devicePixelRatio || 1;
    const ratio = picture.software ? (this.settled && dense > 1 ? 2 : 1) : Math.min(dense, 2);
    picture.setSize(width, height, ratio, picture.software && this.settled && dense <= 1);
    this.paint();
    picture.place((name) => this.poseOf(name), (name) => this.moves(name), !picture.software || this.settled);
    picture.ropes.set(this.ropes());
    this.setDanger();
    picture.render(this.at, { x: 0, y: 0, width, height });
    const lens = this.lensFrame();
    if (lens) {
      picture.setHazards(null, null);
      picture.renderNear(lens.at, lens.frame);
    }
    picture.show();
    // So that it is drawn while the words are written.
    picture.renderer.getContext().flush();
    return undefined;
  }

  ropes() {
    const { now, story, position } = this;
    const poses = story.sections.map((section, s) => story.pose(s, position, this.changes[section.name] ?? TRUE_HANG));
    const lift = now?.passage.lift;
    const found = [];
    for (const rope of this.head.ropes) {
      if (rope.lift !== lift) continue;
      const points = rope.path.map((/** @type {number[]} */ [rides, x, y, z]) => {
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
    const along = nearest.opposite.map((/** @type {number} */ v, /** @type {number} */ k) => v - nearest.where[k]);
    const near = closeUp(nearest.where, along, LENS_NEAREST);
    // Wide enough to hold both ends of a gap that is wide.
    const at = { ...near, span: Math.max(near.span, 2.2 * Math.hypot(...along)) };
    return { at, frame: { x: width - side, y: 0, width: side, height: side } };
  }

  /** @param {number} x @param {number} y */
  inLens(x, y) {
    const lens = this.lensFrame();
    return lens !== null && x > lens.frame.x && y < lens.frame.height;
  }

  // ------------------------------------------------------------------ the end

  dispose() {
    this.ends.abort();
    cancelAnimationFrame(this.pending);
    cancelAnimationFrame(this.playing);
    clearTimeout(this.settling);
    clearTimeout(this.resting);
    clearTimeout(this.hovering);
    clearTimeout(this.beginning);
    this.picture?.dispose();
    this.picture = null;
    this.style.remove();
    this.layout.root.remove();
  }
}
