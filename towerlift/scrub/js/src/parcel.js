// Reading what Python packed: a JSON head, then arrays at multiples of eight bytes.

const MAGIC = "TLP1";
const KINDS = { u1: Uint8Array, u2: Uint16Array, u4: Uint32Array, f4: Float32Array };

/** @typedef {Uint8Array | Uint16Array | Uint32Array | Float32Array} Numbers */

/**
 * @param {Uint8Array} parcel
 * @returns {{head: any, arrays: Record<string, Numbers>}}
 */
export function unpack(parcel) {
  const letters = new TextDecoder().decode(parcel.subarray(0, 4));
  if (letters !== MAGIC) throw new Error(`not a parcel: begins with "${letters}"`);
  const whole = parcel.byteOffset % 8 ? parcel.slice() : parcel;
  const start = 8 + new DataView(whole.buffer, whole.byteOffset).getUint32(4, true);
  const head = JSON.parse(new TextDecoder().decode(whole.subarray(8, start)));
  /** @type {Record<string, Numbers>} */
  const arrays = {};
  for (const [name, [kind, place, count]] of Object.entries(head.arrays)) {
    const Kind = KINDS[/** @type {keyof typeof KINDS} */ (kind)];
    arrays[name] = new Kind(
      /** @type {ArrayBuffer} */ (whole.buffer), whole.byteOffset + start + place, count);
  }
  return { head, arrays };
}

/**
 * @param {Uint8Array} packed gzip, or a parcel that is not packed
 * @returns {Promise<Uint8Array>}
 */
export async function unzip(packed) {
  if (packed[0] !== 0x1f || packed[1] !== 0x8b) return packed;
  const stream = new Blob([/** @type {any} */ (packed)]).stream();
  const plain = stream.pipeThrough(new DecompressionStream("gzip"));
  return new Uint8Array(await new Response(plain).arrayBuffer());
}
