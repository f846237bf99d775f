// Words over the picture keep off each other: what is placed first stays where it wants to be,
// what comes later goes up or down till it is free. Where a label goes depends on nothing but
// the places asked for, so that the same step always looks the same.

const NARROW = new Set(" .,:;'|()ijlfrtI1");
const WIDE = new Set("mwMW%@");
const KEPT = 2; // room round words [px]

/** Width of words in bold letters, rather too much than too little [em]. @param {string} words */
export function widthOf(words) {
  let em = 0;
  for (const letter of words) {
    if (NARROW.has(letter)) em += 0.46;
    else em += WIDE.has(letter) ? 1.06 : 0.73;
  }
  return em;
}

/** Words in lines of at most so many letters' width. @param {string} words @param {number} most
 * [em] @returns {string[]} */
export function wrapped(words, most) {
  const lines = [""];
  for (const word of words.split(" ")) {
    const longer = `${lines[lines.length - 1]} ${word}`.trimStart();
    if (lines[lines.length - 1] && widthOf(longer) > most) lines.push(word);
    else lines[lines.length - 1] = longer;
  }
  return lines;
}

/**
 * @typedef {{left: number, top: number, right: number, bottom: number}} Box edges [px]
 * @typedef {{left: number, cost: number}} Choice a left edge, and how far up or down one
 *   would rather go than take it [px]
 */

export class Places {
  /** @param {number} width @param {number} height */
  constructor(width, height) {
    this.width = width;
    this.height = height;
    this.from = 0; // what stands at the left edge ends here [px]
    /** @type {Box[]} */
    this.taken = [];
  }

  /** Room that nothing placed later may use.
   * @param {number} left @param {number} top @param {number} right @param {number} bottom */
  take(left, top, right, bottom) {
    this.taken.push({ left, top, right, bottom });
  }

  /** Free top nearest to the one wanted, upward rather than downward; null where there is none.
   * @param {number} left @param {number} top @param {number} wide @param {number} high */
  free(left, top, wide, high) {
    const wanted = Math.min(Math.max(top, 0), this.height - high);
    const near = this.taken.filter((box) => box.left < left + wide + KEPT && box.right > left - KEPT);
    let best = null;
    const offered = [wanted, ...near.map((box) => box.top - high - KEPT), ...near.map((box) => box.bottom + KEPT)];
    for (const each of offered) {
      if (each < 0 || each > this.height - high) continue;
      if (best !== null && Math.abs(each - wanted) >= Math.abs(best - wanted)) continue;
      if (near.some((box) => box.top < each + high + KEPT - 1e-6 && box.bottom > each - KEPT + 1e-6)) continue;
      best = each;
    }
    return best;
  }

  /** Place a box in the best of some columns, and take it. Where all is full it goes where it
   * was wanted: a number that is hard to read is better than none.
   * @param {number} wide @param {number} high @param {number} top wanted
   * @param {Choice[]} choices best first @returns {Box} */
  put(wide, high, top, choices) {
    /** @type {{left: number, top: number, cost: number} | null} */
    let best = null;
    /** @param {number} left */
    const held = (left) => Math.max(Math.min(left, this.width - wide), this.from);
    for (const { left, cost } of choices) {
      const within = held(left);
      const found = this.free(within, top, wide, high);
      if (found === null) continue;
      const spent = cost + Math.abs(found - top) + 2 * Math.abs(within - left);
      if (best === null || spent < best.cost) best = { left: within, top: found, cost: spent };
    }
    const left = best?.left ?? held(choices[0].left);
    const at = best?.top ?? Math.min(Math.max(top, 0), this.height - high);
    const box = { left, top: at, right: left + wide, bottom: at + high };
    this.taken.push(box);
    return box;
  }
}
