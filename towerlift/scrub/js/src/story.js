// The raise as numbers: where everything is at a position, which gap is least, what pulls.
// A position counts passages done, the last one in part, as Python counts them.

const NEARBY = 0.4; // a gap so close to a place is the gap there [m]
const LEAST_WIDTH = 0.25; // room of a step on the slider, travelling or not [m]

/**
 * @typedef {{moving: string, against: string, mark: string, oppositeMark: string, gap: number,
 *   certified: boolean, where: number[], opposite: number[]}} Nearest
 * @typedef {{stage: string, step: string, words: string, event: string, lift: string | null,
 *   begins: string | null, lasts: number, moving: number[], heels: (number[] | null)[],
 *   states: (string | null)[], carriers: (string | null)[], fixtures: string[],
 *   fitted: string[]}} Passage
 * @typedef {{tiltX: number, tiltY: number, yaw: number, driftX: number, driftY: number}} Change
 */

/** @type {Change} */
export const TRUE_HANG = { tiltX: 0, tiltY: 0, yaw: 0, driftX: 0, driftY: 0 };

/** @param {number} value @param {number} low @param {number} high */
export const held = (value, low, high) => Math.min(Math.max(value, low), high);

export class Story {
  /** @param {any} head */
  constructor(head) {
    this.head = head;
    /** @type {Passage[]} */
    this.passages = head.passages;
    /** @type {{name: string, length: number}[]} */
    this.sections = head.sections;
    this.sectionNames = this.sections.map((section) => section.name);
    /** @type {Map<number, any[]>} */
    this.gapsOf = new Map();
    for (const curve of head.gaps) {
      const list = this.gapsOf.get(curve.passage) ?? [];
      list.push(curve);
      this.gapsOf.set(curve.passage, list);
    }
    /** @type {Map<number, any>} */
    this.loadsOf = new Map(head.loads.map((/** @type {any} */ each) => [each.passage, each]));
    /** @type {Map<number, any>} */
    this.shoesOf = new Map((head.shoes ?? []).map((/** @type {any} */ each) => [each.passage, each]));
    this.bounds = [0];
    for (let n = 0; n < this.passages.length; n++) {
      this.bounds.push(this.bounds[n] + Math.max(Math.abs(this.travel(n)), LEAST_WIDTH));
    }
    /** @type {{name: string, first: number, last: number}[]} */
    this.stages = [];
    this.passages.forEach((passage, n) => {
      const last = this.stages.at(-1);
      if (last && last.name === passage.stage) last.last = n + 1;
      else this.stages.push({ name: passage.stage, first: n, last: n + 1 });
    });
  }

  get count() {
    return this.passages.length;
  }

  get length() {
    return this.bounds[this.count];
  }

  /** Height that the hauled section gains in a passage. @param {number} n */
  travel(n) {
    const { moving, heels } = this.passages[n];
    const place = moving.length ? heels[moving[0]] : null;
    return place ? place[1] - place[0] : 0;
  }

  /** Passage and share of it at a position. @param {number} position @returns {[number, number]} */
  split(position) {
    const n = held(Math.floor(position), 0, this.count - 1);
    return [n, held(position - n, 0, 1)];
  }

  /** Way along the slider at a position. @param {number} position */
  along(position) {
    const [n, share] = this.split(position);
    return this.bounds[n] + share * (this.bounds[n + 1] - this.bounds[n]);
  }

  /** Position at a way along the slider. @param {number} along */
  position(along) {
    const way = held(along, 0, this.length);
    let low = 0;
    let high = this.count - 1;
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      if (this.bounds[middle] <= way) low = middle;
      else high = middle - 1;
    }
    return low + (way - this.bounds[low]) / (this.bounds[low + 1] - this.bounds[low]);
  }

  /** Heel height of a section, null where it is not on the site.
   * @param {number} section @param {number} position @returns {number | null} */
  heel(section, position) {
    const [n, share] = this.split(position);
    const place = this.passages[n].heels[section];
    return place ? place[0] + share * (place[1] - place[0]) : null;
  }

  /** shaft_from_section, 16 numbers column by column; null where it is not on the site.
   * @param {number} section @param {number} position @param {Change} [change]
   * @returns {number[] | null} */
  pose(section, position, change = TRUE_HANG) {
    const heel = this.heel(section, position);
    if (heel === null) return null;
    const [x, y, turn] = this.head.plumb;
    return poseMatrix(x, y, heel, turn, change);
  }

  /** Least gap of all pairs at a position, or the one at a place if there is one.
   * @param {number} position @param {number[] | null} [at] @returns {Nearest | null} */
  nearest(position, at = null) {
    const [n] = this.split(position);
    /** @type {Nearest | null} */
    let best = null;
    let nearby = NEARBY;
    for (const curve of this.gapsOf.get(n) ?? []) {
      const heel = this.heel(this.sectionNames.indexOf(curve.moving), position);
      if (heel === null) continue;
      const found = gapAt(curve, heel);
      const away = at ? Math.hypot(...at.map((value, k) => value - found.where[k])) : Infinity;
      if (away < nearby) {
        nearby = away;
        best = found;
      } else if (nearby === NEARBY && (!best || found.gap < best.gap)) best = found;
    }
    return best;
  }

  /** Loads on the lines at a position, null where nothing hangs. @param {number} position */
  loads(position) {
    const [n] = this.split(position);
    const curve = this.loadsOf.get(n);
    if (!curve) return null;
    const section = this.sectionNames.indexOf(curve.hauled[0]);
    const heel = this.heel(section, position);
    if (heel === null) return null;
    const { heels } = curve;
    const rising = heels[heels.length - 1] >= heels[0];
    let k = 0;
    while (k < heels.length - 2 && (rising ? heels[k + 1] <= heel : heels[k + 1] >= heel)) k++;
    const next = Math.min(k + 1, heels.length - 1);
    const span = heels[next] - heels[k];
    const share = span ? held((heel - heels[k]) / span, 0, 1) : 0;
    /** @param {number | null} a @param {number | null} b */
    const mix = (a, b) => (a === null || b === null ? null : a + share * (b - a));
    return {
      lift: curve.lift,
      hauled: curve.hauled,
      heel,
      weight: mix(curve.weight[k], curve.weight[next]),
      ratio: mix(curve.ratio[k], curve.ratio[next]),
      lines: curve.lines.map((/** @type {string} */ name, /** @type {number} */ i) => ({
        name,
        tension: mix(curve.tensions[k][i], curve.tensions[next][i]),
        pull: mix(curve.pull[k][i], curve.pull[next][i]),
        at: [0, 1, 2].map((axis) => mix(curve.lower[k][i][axis], curve.lower[next][i][axis])),
      })),
    };
  }

  /** What the shoes of the hauled section bear at most, at the gust at which hauling stops, as
   * forces of the rails on them; none where no shoes hold it. Between two heights that were
   * reckoned the greater is told. Either way along the axis is as bad: one is shown.
   * @param {number} position @param {number} half of the section's width [m]
   * @returns {{at: number[], force: number[], name: string}[]} */
  shoes(position, half) {
    const [n] = this.split(position);
    const curve = this.shoesOf.get(n);
    if (!curve) return [];
    const heel = this.heel(this.sectionNames.indexOf(curve.section), position);
    if (heel === null) return [];
    const { heels } = curve;
    const rising = heels[heels.length - 1] >= heels[0];
    let k = 0;
    while (k < heels.length - 2 && (rising ? heels[k + 1] <= heel : heels[k + 1] >= heel)) k++;
    const next = Math.min(k + 1, heels.length - 1);
    /** @type {(row: number[]) => number} */
    const most = (row) => Math.max(row[k], row[next]);
    const worse = curve.upper[next] > curve.upper[k] ? next : k;
    const [tx, ty] = curve.towards[worse];
    const [x, y] = this.head.plumb;
    /** @param {number} side 1 down the wind, -1 against it @param {number} up @param {number} force
     * @param {string} name */
    const arrow = (side, up, force, name) => ({ name,
      at: [x + side * half * tx, y + side * half * ty, heel + up],
      force: [-side * force * tx, -side * force * ty, 0] });
    const said = (/** @type {number} */ many, /** @type {string} */ which) => `${many} ${which} shoe${many === 1 ? "" : "s"} at ${curve.gust} m/s:`;
    return [
      arrow(1, curve.head[worse], most(curve.upper), said(curve.nUpper[worse], "upper")),
      arrow(curve.across[worse] ? -1 : 1, curve.foot[worse], most(curve.lower), said(curve.nLower[worse], "lower")),
    ];
  }

  /** The haul that a passage belongs to, is made ready for, or comes after: its passages.
   * @param {number} n @returns {number[]} */
  haulNear(n) {
    const stage = this.passages[n].stage;
    const moves = (/** @type {number} */ k) =>
      this.passages[k]?.stage === stage && this.passages[k].moving.length > 0;
    const stageOf = this.stages.find((each) => each.first <= n && n < each.last);
    if (!stageOf) return [];
    let middle = -1;
    for (let k = n; k < stageOf.last && middle < 0; k++) if (moves(k)) middle = k;
    for (let k = n; k >= stageOf.first && middle < 0; k--) if (moves(k)) middle = k;
    if (middle < 0) return [];
    const same = (/** @type {number} */ k) =>
      this.passages[k].lift === this.passages[middle].lift
      && this.passages[k].moving[0] === this.passages[middle].moving[0]
      && this.travel(k) * this.travel(middle) > 0;
    const run = [middle];
    for (let k = middle - 1; k >= stageOf.first; k--) {
      if (!moves(k)) continue;
      if (!same(k)) break;
      run.unshift(k);
    }
    for (let k = middle + 1; k < stageOf.last; k++) {
      if (!moves(k)) continue;
      if (!same(k)) break;
      run.push(k);
    }
    return run;
  }

  /** Position after a time, at so many times true speed; steps that do not travel take a pause.
   * @param {number} position @param {number} seconds @param {number} speed
   * @param {number} pause [s] */
  after(position, seconds, speed, pause) {
    let [n, share] = this.split(position);
    let left = seconds;
    for (;;) {
      const passage = this.passages[n];
      const true_ = passage.lasts / speed;
      const lasts = passage.moving.length && true_ > 0 ? true_ : Math.min(true_ || pause, pause);
      const need = lasts * (1 - share);
      if (left < need) return n + share + left / lasts;
      left -= need;
      if (n === this.count - 1) return this.count;
      n += 1;
      share = 0;
    }
  }
}

/**
 * @param {any} curve @param {number} heel
 * @returns {Nearest}
 */
export function gapAt(curve, heel) {
  const { heels } = curve;
  let k = 0;
  while (k < curve.least.length - 1 && heels[k + 1] <= heel) k++;
  // The witness belongs to the heel at which the step is tightest: carry it to this one.
  const [x, y, z] = curve.where[k];
  return {
    moving: curve.moving,
    against: curve.against,
    mark: curve.marks[k],
    oppositeMark: curve.oppositeMarks[k],
    gap: curve.least[k],
    certified: curve.certified,
    where: [x, y, z + heel - curve.at[k]],
    opposite: curve.opposite[k],
  };
}

/**
 * Turns about north after east after the vertical, then the shift; column by column.
 * @param {number} x @param {number} y @param {number} heel @param {number} turn
 * @param {Change} change
 */
export function poseMatrix(x, y, heel, turn, change) {
  const yaw = turn + change.yaw;
  const [cz, sz] = [Math.cos(yaw), Math.sin(yaw)];
  const [cx, sx] = [Math.cos(change.tiltX), Math.sin(change.tiltX)];
  const [cy, sy] = [Math.cos(change.tiltY), Math.sin(change.tiltY)];
  return [
    cy * cz + sy * sx * sz, cx * sz, -sy * cz + cy * sx * sz, 0,
    -cy * sz + sy * sx * cz, cx * cz, sy * sz + cy * sx * cz, 0,
    sy * cx, -sx, cy * cx, 0,
    x + change.driftX, y + change.driftY, heel, 1,
  ];
}

/** @param {ArrayLike<number>} pose @param {number[]} point */
export function carried(pose, [x, y, z]) {
  return [0, 1, 2].map((k) => pose[k] * x + pose[4 + k] * y + pose[8 + k] * z + pose[12 + k]);
}
