// What hands do: slider, buttons, keys, and the pointer over the picture.

import { choose, listFindings, nextFinding } from "./findings.js";
import { given, kernelGone } from "./kernel.js";
import { chooseMember, listMembers, lookAtMember } from "./members.js";
import { clicked, hover, hoverAt } from "./pointing.js";
import { held } from "./story.js";
import { answered, offerTries } from "./tries.js";

/** @typedef {import("./view.js").View} View */

const FINE = 0.05; // an arrow key's step [m]
const COARSE = 1; // a page key's step [m]
export const INSET = 8; // half the slider's handle [px]

/** @param {View} view */
export function listen(view) {
  const { layout, host } = view;
  const { signal } = view.ends;
  const { root, slider, canvas, part } = layout;
  /** @param {string} name @param {string} event @param {(event: any) => void} heard */
  const on = (name, event, heard) => part(name).addEventListener(event, heard, { signal });
  // A notebook takes arrow keys for itself unless they stop here.
  root.addEventListener("keydown", (event) => key(view, event), { signal });
  root.addEventListener("keyup", (event) => event.stopPropagation(), { signal });
  slider.max = String(view.story.length);
  slider.addEventListener("input", () => view.slide(Number(slider.value)), { signal });
  on(".tlv-play", "click", () => view.play(!view.playing));
  on(".tlv-stage", "change", (event) => view.toStage(event.target.value));
  on(".tlv-hold", "click", () => view.nextHold());
  on(".tlv-unit", "click", () => view.setUnit(view.unit === "m" ? "ft" : "m"));
  on(".tlv-smaller", "click", () => view.setText(view.text - 1));
  on(".tlv-larger", "click", () => view.setText(view.text + 1));
  on(".tlv-from", "change", (event) => view.lookFrom(event.target.value));
  for (const [name, flag] of [["cut", "cut"], ["gaps", "colouring"], ["loads", "loads"],
    ["danger", "danger"], ["lensed", "lensed"], ["tape", "measuring"]]) {
    on(`.tlv-${name}`, "click", () => view.toggle(name, flag));
  }
  on(".tlv-sieve", "change", () => listFindings(view));
  on(".tlv-words", "input", () => listFindings(view));
  on(".tlv-list", "change", (event) => choose(view, Number(event.target.value)));
  on(".tlv-members", "toggle", () => listMembers(view));
  on(".tlv-body", "change", () => listMembers(view));
  on(".tlv-memberlist", "change", (event) => chooseMember(view, Number(event.target.value)));
  on(".tlv-memberlist", "keydown", (event) => { if (event.key === "Enter") lookAtMember(view); });
  on(".tlv-lookat", "click", () => lookAtMember(view));
  on(".tlv-unchoose", "click", () => chooseMember(view, -1));
  on(".tlv-before", "click", () => nextFinding(view, -1));
  on(".tlv-next", "click", () => nextFinding(view, 1));
  on(".tlv-course", "pointerdown", (event) => point(view, event));
  part(".tlv-speed").value = "60";
  listenToCanvas(view, canvas, signal);
  const watcher = new ResizeObserver(() => view.resize());
  watcher.observe(root);
  /** @type {Record<string, (...rest: any[]) => void>} */
  const told = {
    "change:position": () => view.told("position"),
    "change:finding": () => view.told("finding"),
    "change:unit": () => view.setUnit(host.get("unit")),
    "change:height": () => view.resize(),
    "change:what_if_answer": () => answered(view, host.get("what_if_answer")),
    "change:what_if_sliders": () => {
      offerTries(view, host.get("what_if_sliders"));
      part(".tlv-tries").open = true;
    },
    "msg:custom": (message, buffers) => given(view, message, buffers),
    comm_live_update: () => kernelGone(view),
  };
  for (const [name, heard] of Object.entries(told)) host.on(name, heard);
  signal.addEventListener("abort", () => {
    watcher.disconnect();
    for (const [name, heard] of Object.entries(told)) host.off(name, heard);
  });
  offerTries(view, host.get("what_if_sliders") ?? []);
}

/** @param {View} view @param {HTMLCanvasElement} canvas @param {AbortSignal} signal */
export function listenToCanvas(view, canvas, signal) {
  /** @type {Map<number, number[]>} */
  const down = new Map();
  let moved = 0;
  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    down.set(event.pointerId, [event.offsetX, event.offsetY]);
    moved = 0;
  }, { signal });
  canvas.addEventListener("pointermove", (event) => {
    const before = down.get(event.pointerId);
    if (!before) {
      hover(view, event.offsetX, event.offsetY);
      return;
    }
    const [dx, dy] = [event.offsetX - before[0], event.offsetY - before[1]];
    moved += Math.abs(dx) + Math.abs(dy);
    if (down.size === 2) {
      const [other] = [...down].filter(([id]) => id !== event.pointerId).map(([, at]) => at);
      const was = Math.hypot(before[0] - other[0], before[1] - other[1]);
      const is = Math.hypot(event.offsetX - other[0], event.offsetY - other[1]);
      view.zoom(was / Math.max(is, 1));
    } else if (event.shiftKey || event.buttons === 2 || event.buttons === 4) view.pan(dx, dy);
    else if (moved > 3) view.turn(dx * 0.008, dy * 0.006);
    down.set(event.pointerId, [event.offsetX, event.offsetY]);
  }, { signal });
  canvas.addEventListener("pointerup", (event) => {
    down.delete(event.pointerId);
    if (moved <= 3) clicked(view, event.offsetX, event.offsetY);
  }, { signal });
  canvas.addEventListener("pointercancel", (event) => down.delete(event.pointerId), { signal });
  canvas.addEventListener("pointerleave", () => hoverAt(view, -1, 0, 0), { signal });
  canvas.addEventListener("contextmenu", (event) => event.preventDefault(), { signal });
  canvas.addEventListener("wheel", (event) => {
    // The page must still scroll past: only a view that was clicked, or Ctrl, takes the wheel.
    if (!event.ctrlKey && document.activeElement !== canvas) return;
    event.preventDefault();
    view.zoom(Math.exp(held(event.deltaY, -200, 200) * 0.0015));
  }, { signal, passive: false });
  canvas.addEventListener("webglcontextlost", (event) => {
    event.preventDefault();
    view.lost = true;
    view.layout.part(".tlv-away").textContent = "The graphics were taken away; the picture comes back by itself.";
  }, { signal });
  canvas.addEventListener("webglcontextrestored", () => {
    view.lost = false;
    view.picture?.forget();
    view.painted = "";
    view.layout.part(".tlv-away").textContent = "";
    view.invalidate();
  }, { signal });
}

/** @param {View} view @param {KeyboardEvent} event */
export function key(view, event) {
  // What the page does with Ctrl, Alt and the like stays the page's.
  if (event.ctrlKey || event.metaKey || event.altKey) return undefined;
  event.stopPropagation();
  const target = /** @type {HTMLElement} */ (event.target);
  const { slider, canvas } = view.layout;
  if (target === canvas && canvasKey(view, event)) return event.preventDefault();
  if (target !== slider && target !== canvas) return undefined;
  const steps = { ArrowLeft: -FINE, ArrowDown: -FINE, ArrowRight: FINE, ArrowUp: FINE,
    PageDown: -COARSE, PageUp: COARSE };
  const along = view.story.along(view.position);
  const step = steps[/** @type {keyof typeof steps} */ (event.key)];
  if (step !== undefined) view.slide(along + step * (event.shiftKey ? 10 : 1));
  else if (event.key === "Home") view.slide(0);
  else if (event.key === "End") view.slide(view.story.length);
  else if (event.key === " ") view.play(!view.playing);
  else if (event.key === "n") nextFinding(view, 1);
  else if (event.key === "p") nextFinding(view, -1);
  else return undefined;
  return event.preventDefault();
}

/** @param {View} view @param {KeyboardEvent} event */
export function canvasKey(view, event) {
  const turns = { ArrowLeft: [-20, 0], ArrowRight: [20, 0], ArrowUp: [0, -12], ArrowDown: [0, 12] };
  const by = turns[/** @type {keyof typeof turns} */ (event.key)];
  if (by && event.shiftKey) view.pan(-by[0], -by[1]);
  else if (by) view.turn(by[0] * 0.008, by[1] * 0.006);
  else if (event.key === "+" || event.key === "=") view.zoom(0.85);
  else if (event.key === "-") view.zoom(1 / 0.85);
  else return false;
  return true;
}

/** @param {View} view @param {PointerEvent} event */
export function point(view, event) {
  const box = view.layout.slider.getBoundingClientRect();
  const share = (event.clientX - box.left - INSET) / (box.width - 2 * INSET);
  view.slide(held(share, 0, 1) * view.story.length);
  view.layout.slider.focus();
}
