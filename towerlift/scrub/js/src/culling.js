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
const PART = 16; // triangles of a part of a chunk
const GRID = 65535; // places along each side of a body's box

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
 * @param {{backs: boolean, slack: number, parts?: Parts}} how whether what faces away
 *   is seen too, how many triangles may be drawn for nothing to make one run of two, and what
 *   chunks are made of where that is worth asking
 * @returns {number[]}
 */
export function runsSeen(chunks, pose, at, aspect, { backs, slack, parts }) {
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
  /** @param {Float32Array} boxes @param {number} j where the numbers of a chunk begin */
  const seen = (boxes, j) => {
    const [cx, cy, cz] = [boxes[j], boxes[j + 1], boxes[j + 2]];
    const [ex, ey, ez] = [boxes[j + 3], boxes[j + 4], boxes[j + 5]];
    const z = tx * cx + ty * cy + tz * cz + t0;
    const deep = Math.abs(tx) * ex + Math.abs(ty) * ey + Math.abs(tz) * ez;
    const reach = at.eye ? deep - z : 1;
    if (at.eye ? reach < EYE_NEAREST : z - deep > nearest) return false;
    const x = rx * cx + ry * cy + rz * cz + r0;
    if (Math.abs(x) - Math.abs(rx) * ex - Math.abs(ry) * ey - Math.abs(rz) * ez > wide * reach) return false;
    const y = ux * cx + uy * cy + uz * cz + u0;
    if (Math.abs(y) - Math.abs(ux) * ex - Math.abs(uy) * ey - Math.abs(uz) * ez > high * reach) return false;
    const spread = boxes[j + 9];
    if (backs || spread < 0) return true;
    const [wx, wy, wz] = [boxes[j + 6], boxes[j + 7], boxes[j + 8]];
    if (!at.eye) return wx * tx + wy * ty + wz * tz > -spread;
    // Of the way to the eye from anywhere in the box.
    const [ox, oy, oz] = [rx * x + ux * y + tx * z, ry * x + uy * y + ty * z, rz * x + uz * y + tz * z];
    const faced = -(wx * ox + wy * oy + wz * oz);
    return faced > -spread * Math.hypot(x, y, z) - Math.hypot(ex, ey, ez);
  };
  /** @type {number[]} */
  const runs = [];
  /** @param {number} first @param {number} next */
  const run = (first, next) => {
    if (runs.length && first - runs[runs.length - 1] <= slack) runs[runs.length - 1] = next;
    else runs.push(first, next);
  };
  const { boxes, firsts } = chunks;
  for (let k = 0, j = 0; k + 1 < firsts.length; k++, j += STRIDE) {
    if (!seen(boxes, j)) continue;
    if (!parts) run(firsts[k], firsts[k + 1]);
    else {
      parts.know(k);
      for (let first = firsts[k], i = STRIDE * parts.most * k; first < firsts[k + 1]; first += PART, i += STRIDE) {
        if (seen(parts.boxes, i)) run(first, Math.min(first + PART, firsts[k + 1]));
      }
    }
  }
  return runs;
}

/** Chunks as several smaller ones, which face as the whole does; reckoned when first asked for. */
export class Parts {
  /**
   * @param {Chunks} chunks
   * @param {ArrayLike<number>} faces corner numbers of all triangles
   * @param {ArrayLike<number>} places of the corners, on a grid of the body's box
   * @param {number[]} low @param {number[]} size of that box [m]
   */
  constructor(chunks, faces, places, low, size) {
    this.chunks = chunks;
    this.faces = faces;
    this.places = places;
    this.low = low;
    this.size = size;
    const { firsts } = chunks;
    let largest = 0;
    for (let k = 0; k + 1 < firsts.length; k++) largest = Math.max(largest, firsts[k + 1] - firsts[k]);
    /** Parts of a chunk, at most. */
    this.most = Math.ceil(largest / PART);
    /** As those of the chunks. */
    this.boxes = new Float32Array(STRIDE * this.most * (firsts.length - 1));
    this.known = new Uint8Array(firsts.length - 1);
  }

  /** @param {number} k a chunk whose parts are wanted */
  know(k) {
    if (this.known[k]) return;
    this.known[k] = 1;
    const { chunks, faces, places, low, size, boxes } = this;
    const end = chunks.firsts[k + 1];
    for (let first = chunks.firsts[k], j = STRIDE * this.most * k; first < end; first += PART, j += STRIDE) {
      const stop = 3 * Math.min(first + PART, end);
      for (let axis = 0; axis < 3; axis++) {
        let [least, most] = [Infinity, -Infinity];
        for (let corner = 3 * first; corner < stop; corner++) {
          const place = places[3 * faces[corner] + axis];
          least = Math.min(least, place);
          most = Math.max(most, place);
        }
        const step = size[axis] / GRID;
        boxes[j + axis] = low[axis] + (step * (least + most)) / 2;
        // A step wider, since the numbers of a box are rounded too.
        boxes[j + 3 + axis] = (step * (most - least)) / 2 + step;
      }
      boxes.set(chunks.boxes.subarray(STRIDE * k + 6, STRIDE * (k + 1)), j + 6);
    }
  }
}
