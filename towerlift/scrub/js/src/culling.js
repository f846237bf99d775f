// Which triangles of a body may be seen at all. They come in chunks that lie together and face
// much the same way; a chunk is left out when its box lies outside the picture, or when all of
// it faces away.

import { EYE_NEAREST, axes, dot } from "./standpoint.js";

/** @typedef {import("./standpoint.js").Standpoint} Standpoint */
/**
 * Numbers of each chunk: middle and half sides of its box, the way it faces, and the sine of
 * how far any of it faces from that (-1 for a right angle or more). `firsts` has the first
 * triangle of each, and after the last chunk how many there are.
 * @typedef {{boxes: Float32Array, firsts: Uint32Array}} Chunks
 */
export const STRIDE = 10;

/** A direction of the shaft in a body's own frame.
 * @param {number[]} way @param {ArrayLike<number>} pose */
const within = (way, pose) =>
  [0, 4, 8].map((k) => pose[k] * way[0] + pose[k + 1] * way[1] + pose[k + 2] * way[2]);

/**
 * Runs of triangles that may be seen, as beginnings and ends one after another.
 * @param {Chunks} chunks
 * @param {ArrayLike<number>} pose shaft_from_body, column by column
 * @param {Standpoint} at
 * @param {number} aspect width of the picture by its height
 * @param {{backs: boolean, slack: number}} how whether what faces away is seen too, and how many
 *   triangles may be drawn for nothing to make one run of two
 * @returns {number[]}
 */
export function runsSeen({ boxes, firsts }, pose, at, aspect, { backs, slack }) {
  const ways = axes(at);
  const from = at.eye ?? at.focus;
  const shift = [0, 1, 2].map((k) => pose[12 + k] - from[k]);
  const [[rx, ry, rz], [ux, uy, uz], [tx, ty, tz]] = [ways.right, ways.up, ways.towards].map(
    (way) => within(way, pose));
  const [r0, u0, t0] = [ways.right, ways.up, ways.towards].map((way) => dot(way, shift));
  // Half of what is seen: everywhere the same, or so much for each metre away from the eye.
  const away = at.eye ? Math.hypot(...at.focus.map((v, k) => v - /** @type {number[]} */ (at.eye)[k])) : 1;
  const high = (0.5 * at.span) / away;
  const wide = high * aspect;
  const nearest = at.cut ?? Infinity;
  const runs = [];
  let end = -1;
  for (let k = 0, j = 0; k + 1 < firsts.length; k++, j += STRIDE) {
    const [cx, cy, cz] = [boxes[j], boxes[j + 1], boxes[j + 2]];
    const [ex, ey, ez] = [boxes[j + 3], boxes[j + 4], boxes[j + 5]];
    const z = tx * cx + ty * cy + tz * cz + t0;
    const deep = Math.abs(tx) * ex + Math.abs(ty) * ey + Math.abs(tz) * ez;
    const reach = at.eye ? deep - z : 1;
    if (at.eye ? reach < EYE_NEAREST : z - deep > nearest) continue;
    const x = rx * cx + ry * cy + rz * cz + r0;
    if (Math.abs(x) - Math.abs(rx) * ex - Math.abs(ry) * ey - Math.abs(rz) * ez > wide * reach) continue;
    const y = ux * cx + uy * cy + uz * cz + u0;
    if (Math.abs(y) - Math.abs(ux) * ex - Math.abs(uy) * ey - Math.abs(uz) * ez > high * reach) continue;
    const spread = boxes[j + 9];
    if (!backs && spread >= 0) {
      const [wx, wy, wz] = [boxes[j + 6], boxes[j + 7], boxes[j + 8]];
      if (at.eye) {
        // Of the way to the eye from anywhere in the box.
        const [ox, oy, oz] = [rx * x + ux * y + tx * z, ry * x + uy * y + ty * z, rz * x + uz * y + tz * z];
        const faced = -(wx * ox + wy * oy + wz * oz);
        if (faced <= -spread * Math.hypot(x, y, z) - Math.hypot(ex, ey, ez)) continue;
      } else if (wx * tx + wy * ty + wz * tz <= -spread) continue;
    }
    if (runs.length && firsts[k] - end <= slack) end = runs[runs.length - 1] = firsts[k + 1];
    else {
      end = firsts[k + 1];
      runs.push(firsts[k], end);
    }
  }
  return runs;
}
