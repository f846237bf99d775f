// What the kernel is asked for, and what is said when it has gone.


/** @typedef {import("./view.js").View} View */

/** Where nothing can be drawn: pictures by the kernel, or those the page brought along.
 * @param {Error} error
 * @param {View} view */
export function withoutPicture(view, error) {
  view.picture = null;
  const { canvas, part } = view.layout;
  canvas.hidden = true;
  view.still = document.createElement("img");
  view.still.alt = "The tower in its shaft";
  part(".tlv-sight").prepend(view.still);
  const why = view.host.live
    ? "This browser cannot draw in 3D: still pictures come from the kernel."
    : "This browser cannot draw in 3D, and the page has no kernel to draw for it: what follows in words and strips is complete.";
  part(".tlv-away").textContent = why;
  part(".tlv-away").title = error.message;
  view.invalidate();
}

/** @param {View} view */
export function kernelGone(view) {
  view.host.live = false;
  view.layout.part(".tlv-tries").hidden = true;
  view.layout.part(".tlv-away").textContent = "The kernel that reckoned this has gone: run the cell again before you rely on it.";
  view.layout.root.setAttribute("data-stale", "true");
}

/** @param {View} view @param {any} message @param {DataView[]} buffers */
export function given(view, message, buffers) {
  if (message.give !== "still" || !view.still) return;
  view.stillOut = false;
  const url = URL.createObjectURL(new Blob([/** @type {any} */ (buffers[0])], { type: "image/png" }));
  const old = view.still.src;
  view.still.src = url;
  if (old.startsWith("blob:")) URL.revokeObjectURL(old);
  if (message.number !== view.stillNumber) askStill(view);
}

/** @param {View} view */
export function askStill(view) {
  if (!view.still || !view.host.live) return;
  const number = view.stillNumber = Math.round(1e6 * view.position);
  if (view.stillOut || view.stillShown === number) return;
  view.stillOut = true;
  view.stillShown = number;
  const { width, height } = view.sightSize();
  view.host.send({ ask: "still", number, position: view.position, size: [width, height] });
}
