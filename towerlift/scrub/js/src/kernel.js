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
  view.brought = view.host.live ? [] : view.host.stills?.() ?? [];
  if (view.host.live) part(".tlv-away").textContent = "This browser cannot draw in 3D: still pictures come from the kernel.";
  else if (!view.brought.length) part(".tlv-away").textContent = "This browser cannot draw in 3D, and the page brought no pictures: what follows in words and strips is complete.";
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
  if (message.give === "gaps") measured(view, message);
  if (message.give !== "still" || !view.still) return;
  view.stillOut = false;
  const url = URL.createObjectURL(new Blob([/** @type {any} */ (buffers[0])], { type: "image/png" }));
  const old = view.still.src;
  view.still.src = url;
  if (old.startsWith("blob:")) URL.revokeObjectURL(old);
  if (message.number !== view.stillNumber) askStill(view);
}

/** Have the kernel measure every piece of the haul at hand, once. @param {View} view */
export function askGaps(view) {
  const run = view.now?.run ?? [];
  if (!view.host.live || !run.length || view.gapsAsked.has(run[0])) return;
  view.gapsAsked.add(run[0]);
  view.stats.sent += 1;
  view.host.send({ ask: "gaps", run });
}

/** @param {View} view @param {{run: number[], rows: [string, string, number | null][]}} message */
function measured(view, { run, rows }) {
  const least = view.leastByMember(run);
  for (const [body, mark, metres] of rows) {
    const member = view.memberOf.get(`${body}|${mark}`);
    // What the curves of the haul tell of a piece is attained, and more exact.
    if (member !== undefined && !least.has(member)) least.set(member, metres ?? Infinity);
  }
  view.gapsMeasured.add(run[0]);
  view.painted = view.membersOf = "";
  view.invalidate();
}

/** The picture that comes nearest to where the raise is, of its own stage if there is one.
 * @param {View} view */
function nearestStill(view) {
  const { story, position } = view;
  const stage = story.passages[story.split(position)[0]].stage;
  const own = view.brought.filter((each) => story.passages[story.split(each.position)[0]].stage === stage);
  const away = (/** @type {import("./view.js").Still} */ each) => Math.abs(story.along(each.position) - story.along(position));
  return (own.length ? own : view.brought).reduce((a, b) => (away(b) < away(a) ? b : a));
}

/** @param {View} view */
function showBrought(view) {
  const { still, brought } = view;
  if (!still || !brought.length) return;
  const nearest = nearestStill(view);
  const number = Math.round(1e6 * nearest.position);
  if (number === view.stillShown) return;
  view.stillShown = number;
  still.src = `data:image/png;base64,${nearest.png}`;
  still.alt = `The tower in its shaft: ${nearest.words}`;
  view.layout.part(".tlv-away").textContent = `This browser cannot draw in 3D. A still, the nearest of ${brought.length}: ${nearest.words}.`;
}

/** @param {View} view */
export function askStill(view) {
  if (!view.host.live) showBrought(view);
  if (!view.still || !view.host.live) return;
  const number = view.stillNumber = Math.round(1e6 * view.position);
  if (view.stillOut || view.stillShown === number) return;
  view.stillOut = true;
  view.stillShown = number;
  const { width, height } = view.sightSize();
  view.host.send({ ask: "still", number, position: view.position, size: [width, height] });
}
