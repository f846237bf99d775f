// Lengths in metres or in feet, as the reader has chosen.

const FOOT = 0.3048;

/** @typedef {"m" | "ft"} Unit */

/** A height or a distance. @param {number} metres @param {Unit} unit */
export function length(metres, unit) {
  return unit === "m" ? `${metres.toFixed(2)} m` : `${feet(metres)}`;
}

/** Feet and inches to the nearest eighth. @param {number} metres */
export function feet(metres) {
  const eighths = Math.round((Math.abs(metres) / FOOT) * 96);
  const sign = metres < 0 && eighths > 0 ? "−" : "";
  const [whole, rest] = [Math.floor(eighths / 96), eighths % 96];
  const [full, part] = [Math.floor(rest / 8), rest % 8];
  const fraction = ["", "⅛", "¼", "⅜", "½", "⅝", "¾", "⅞"][part];
  return `${sign}${whole} ft ${full}${fraction} in`;
}

/** Words with heights in metres, in the reader's unit. @param {string} words @param {Unit} unit */
export function heightsIn(words, unit) {
  if (unit === "m") return words;
  const to = words.replace(/(-?\d+(?:\.\d+)?) to (-?\d+(?:\.\d+)?) m\b(?!\/)/g,
    (_, a, b) => `${feet(Number(a))} to ${feet(Number(b))}`);
  return to.replace(/(-?\d+(?:\.\d+)?) m\b(?!\/)/g, (_, a) => feet(Number(a)));
}

/** Inches to the hundredth. @param {number} metres not negative @param {boolean} down whether
 * they are rounded down, else up */
export function inches(metres, down) {
  const hundredths = (metres / FOOT) * 1200;
  return `${((down ? Math.floor(hundredths + 1e-6) : Math.ceil(hundredths - 1e-6)) / 100).toFixed(2)} in`;
}

/** A gap: millimetres, or inches to the sixteenth, never rounded up. @param {number} metres
 * @param {Unit} unit */
export function gap(metres, unit) {
  if (unit === "m") return `${Math.floor(metres * 1000 + 1e-6)} mm`.replace("-", "−");
  const sixteenths = Math.floor((metres / FOOT) * 192 + 1e-6);
  return `${(sixteenths / 16).toFixed(2)} in`.replace("-", "−");
}

/** Heights to number a scale with: step in metres, and how each is written.
 * @param {number} least least step [m] @param {Unit} unit */
export function scaleStep(least, unit) {
  const one = unit === "m" ? 1 : FOOT;
  const power = 10 ** Math.floor(Math.log10(least / one));
  const steps = [1, 2, 5, 10].map((k) => k * power);
  const chosen = steps.find((step) => step >= (least / one) * 0.999) ?? 10 * power;
  const digits = Math.max(0, -Math.floor(Math.log10(chosen) + 1e-9));
  return { step: chosen * one, write: (/** @type {number} */ metres) => (metres / one).toFixed(digits) };
}
