// SVG as text, and the few measures every drawing needs.

export const INK = "#262a30";
export const FAINT = "#6b6b64";
export const GRID = "#dedcd4";
export const MARK = "#b22658";
export const LIMIT = "#8a3b12";
export const OTHER = "#17527f";
/** Dark enough on paper, told apart by their dashes first and by lightness second. */
export const LINES = [["#17527f", ""], ["#262a30", "7 3"], ["#4c7a86", "2 2.5"],
  ["#7a5a12", "9 3 2 3"], ["#7b6f8f", "4 2 1 2 1 2"]];

/** @param {unknown} words */
export const escape = (words) => String(words).replace(/[&<>"]/g, (letter) =>
  /** @type {Record<string, string>} */ ({ "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;" })[letter]);

/** @param {number} value */
export const px = (value) => value.toFixed(1);

/** Round numbers within a range. @param {number} low @param {number} high @param {number} most */
export function ticks(low, high, most) {
  if (!(high > low)) return [low];
  const power = 10 ** Math.floor(Math.log10((high - low) / Math.max(most, 1)));
  for (const step of [power, 2 * power, 5 * power, 10 * power, 20 * power]) {
    const [first, last] = [Math.ceil(low / step - 1e-9), Math.floor(high / step + 1e-9)];
    if (last - first + 1 <= most) {
      return Array.from({ length: last - first + 1 }, (_, k) => (first + k) * step);
    }
  }
  return [low];
}

/** A number without a tail of zeros. @param {number} value */
export const number = (value) => String(Number(value.toPrecision(6))).replace("-", "−");

/**
 * @param {string} tag @param {Record<string, string | number>} attributes @param {string} [inside]
 */
export function el(tag, attributes, inside = "") {
  const written = Object.entries(attributes).map(([name, value]) =>
    ` ${name}="${typeof value === "number" ? px(value) : escape(value)}"`).join("");
  return `<${tag}${written}>${inside}</${tag}>`;
}

/** @param {number} x @param {number} y @param {string} words @param {Record<string, string>} [more] */
export const text = (x, y, words, more = {}) => el("text", { x, y, ...more }, escape(words));

/** @param {number[][]} points @param {Record<string, string | number>} more */
export const line = (points, more) => el("polyline", {
  points: points.map(([x, y]) => `${px(x)},${px(y)}`).join(" "), fill: "none", ...more });

/** Words that fit a width, by a generous estimate. @param {string} words @param {number} size
 * @param {number} width */
export function shorten(words, size, width) {
  const room = Math.floor(width / (0.56 * size));
  return words.length <= room ? words : `${words.slice(0, Math.max(room - 1, 0)).trimEnd()}…`;
}
