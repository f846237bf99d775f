// What the widget is made of in a notebook: it asks the kernel for all else, once, so that
// neither the bundle nor the raise is ever part of what a saved notebook holds.

const PATIENCE = 60_000; // until the kernel must have answered [ms]

/** @type {{bundles: Map<string, Promise<any>>, parcels: Map<string, Promise<any>>}} */
const kept = (/** @type {any} */ (globalThis)[Symbol.for("towerlift.scrub")] ??= {
  bundles: new Map(),
  parcels: new Map(),
});

/** @param {DataView} view */
const bytes = (view) => new Uint8Array(view.buffer, view.byteOffset, view.byteLength);

/** @param {BlobPart} code */
async function imported(code) {
  const url = URL.createObjectURL(new Blob([code], { type: "text/javascript" }));
  try {
    return await import(/* @vite-ignore */ url);
  } finally {
    URL.revokeObjectURL(url);
  }
}

/** @param {any} model */
function load(model) {
  const key = model.get("key");
  const mark = model.get("bundle_mark");
  const known = kept.parcels.get(key);
  if (known) return known;
  const promise = new Promise((resolve, reject) => {
    const timer = setTimeout(() => finish(reject, new Error("no kernel answers")), PATIENCE);
    /** @param {(value: any) => void} how @param {any} value */
    const finish = (how, value) => {
      clearTimeout(timer);
      model.off("msg:custom", heard);
      how(value);
    };
    /** @param {any} message @param {DataView[]} buffers */
    const heard = (message, buffers) => {
      if (message.give !== "all" && message.give !== "parcel") return;
      if (message.give === "all" && !kept.bundles.has(mark)) {
        kept.bundles.set(mark, imported(/** @type {any} */ (bytes(buffers[0]))));
      }
      finish(resolve, { view: kept.bundles.get(mark), parcel: bytes(buffers[buffers.length - 1]) });
    };
    model.on("msg:custom", heard);
    model.send({ ask: kept.bundles.has(mark) ? "parcel" : "all" });
  });
  kept.parcels.set(key, promise);
  promise.catch(() => kept.parcels.delete(key));
  return promise;
}

export default {
  /** @param {{model: any}} widget */
  initialize({ model }) {
    const key = model.get("key");
    return () => kept.parcels.delete(key);
  },
  /** @param {{model: any, el: HTMLElement}} widget */
  async render({ model, el }) {
    /** @type {(() => void) | undefined} */
    let end;
    let left = false;
    el.textContent = "The raise is on its way …";
    load(model)
      .then(async ({ view, parcel }) => {
        const { mountWidget } = await view;
        if (left) return;
        el.textContent = "";
        end = await mountWidget(el, parcel, model);
        if (left) end?.();
      })
      .catch((error) => {
        el.textContent = `The view is not running (${error.message}). Run its cell again; `
          + "the picture below is from when it last ran.";
      });
    return () => {
      left = true;
      end?.();
    };
  },
};
