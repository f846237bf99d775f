// Two ways in: a widget in a notebook, and a page by itself.

import { unpack, unzip } from "./parcel.js";
import { View } from "./view.js";

/** @typedef {import("./view.js").Host} Host */

/** Views of this page, newest last, for whoever drives or measures them. @type {View[]} */
const views = (/** @type {any} */ (globalThis)[Symbol.for("towerlift.views")] ??= []);

/** @param {HTMLElement} parent @param {Uint8Array} packed @param {Host} host */
async function mounted(parent, packed, host) {
  const view = new View(parent, unpack(await unzip(packed)), host);
  views.push(view);
  return view;
}

/** Take a view away. @param {View} view */
export function ended(view) {
  view.dispose();
  const n = views.indexOf(view);
  if (n >= 0) views.splice(n, 1);
}

/** @param {HTMLElement} parent @param {Uint8Array} packed @param {any} model */
export async function mountWidget(parent, packed, model) {
  /** @type {Host} */
  const host = {
    get: (name) => model.get(name),
    set: (name, value) => {
      model.set(name, value);
      model.save_changes();
    },
    on: (name, heard) => model.on(name, heard),
    off: (name, heard) => model.off(name, heard),
    send: (message) => model.send(message),
    live: true,
    begun: () => model.send({ ask: "left" }),
  };
  const view = await mounted(parent, packed, host);
  view.open(model.get("finding"), model.get("position"));
  return () => ended(view);
}

/** @param {HTMLElement} parent @param {Uint8Array} packed
 * @param {{position: number | null, unit: string}} settings
 * @param {() => import("./view.js").Still[]} [stills] pictures that the page brought along */
export async function mountPage(parent, packed, settings, stills) {
  /** @type {Record<string, any>} */
  const values = { unit: settings.unit, height: Math.max(globalThis.innerHeight - 6, 480), follow: false };
  /** @type {Host} */
  const host = { get: (name) => values[name], set: () => {}, on: () => {}, off: () => {}, send: () => {}, live: false, stills };
  const view = await mounted(parent, packed, host);
  addEventListener("resize", () => {
    values.height = Math.max(globalThis.innerHeight - 6, 480);
    view.resize();
  }, { signal: view.ends.signal });
  view.open(null, settings.position);
  return view;
}
