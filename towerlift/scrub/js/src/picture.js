// The tower in three dimensions. A member's colour, and whether it is seen, is one texel of a
// palette, so that changing either sends no geometry. Drawn only when something has changed,
// and where the processor draws, what stands still is not drawn again while others move.

import {
  BufferAttribute,
  BufferGeometry,
  Camera,
  Color,
  DataTexture,
  DoubleSide,
  GLSL3,
  LinearSRGBColorSpace,
  Matrix4,
  Mesh,
  NearestFilter,
  RawShaderMaterial,
  Scene,
  Vector2,
  Vector3,
  WebGLRenderer,
  WebGLRenderTarget,
} from "three";
import { FINER, Fine } from "./fine.js";
import { Kept } from "./kept.js";
import { LAYER, Mover } from "./mover.js";
import { Print, clipped, rectOf, through } from "./print.js";
import { Ropes } from "./ropes.js";
import * as shaders from "./shaders.js";
import { axes, matrices } from "./standpoint.js";

export const PAPER = [250, 249, 246];
const PALETTE_WIDTH = 256;
const HAZARD = [178, 38, 88];
const MANY = 4000;
const BODIES = [LAYER.still, LAYER.moving];
const BESIDES = [LAYER.marks, LAYER.ropes, LAYER.hazards];
const SOFTWARE = /swiftshader|llvmpipe|softpipe|software|basic render/i;

/** @typedef {import("./standpoint.js").Standpoint} Standpoint */
/** @typedef {{x: number, y: number, width: number, height: number}} Frame measured from above */
/** @typedef {{member: number, colour: ArrayLike<number>}} Mark */

/** @type {boolean | undefined} */
let software;

/** Whether drawing is done without a graphics processor; asked once in a page. */
function drawsInSoftware() {
  if (software === undefined) {
    const probe = document.createElement("canvas").getContext("webgl2");
    const named = probe?.getExtension("WEBGL_debug_renderer_info");
    const name = probe && named ? String(probe.getParameter(named.UNMASKED_RENDERER_WEBGL)) : "";
    software = !probe || SOFTWARE.test(name);
    probe?.getExtension("WEBGL_lose_context")?.loseContext();
  }
  return software;
}

/** A column of unit height over the square from -1 to 1. */
function columnGeometry() {
  const box = new BufferGeometry();
  const ring = [[-1, -1], [1, -1], [1, 1], [-1, 1]];
  const corners = [0, 1].flatMap((z) => ring.flatMap(([x, y]) => [x, y, z]));
  box.setAttribute("position", new BufferAttribute(new Float32Array(corners), 3));
  box.setIndex([0, 1, 5, 0, 5, 4, 1, 2, 6, 1, 6, 5, 2, 3, 7, 2, 7, 6, 3, 0, 4, 3, 4, 7]);
  return box;
}

export class Picture {
  /**
   * @param {HTMLCanvasElement} canvas
   * @param {any} head
   * @param {Record<string, any>} arrays
   */
  constructor(canvas, head, arrays) {
    this.software = drawsInSoftware();
    this.renderer = new WebGLRenderer({
      canvas,
      antialias: !this.software,
      alpha: false,
      powerPreference: "high-performance",
      failIfMajorPerformanceCaveat: false,
    });
    // Colours are used as they are given, on the screen as off it.
    this.renderer.outputColorSpace = LinearSRGBColorSpace;
    this.paper = new Color().setRGB(PAPER[0] / 255, PAPER[1] / 255, PAPER[2] / 255);
    this.renderer.autoClear = false;
    this.renderer.sortObjects = false;
    this.renderer.info.autoReset = false;
    this.renderer.setPixelRatio(1);
    this.ratio = 1;
    this.head = head;
    this.size = { width: 1, height: 1 };
    this.scene = new Scene();
    this.scene.matrixWorldAutoUpdate = false;
    this.camera = new Camera();
    this.camera.matrixWorldAutoUpdate = false;
    this.viewport = new Vector2(1, 1);
    this.disposables = /** @type {{dispose: () => void}[]} */ ([]);
    const rows = Math.ceil(arrays.colours.length / 3 / PALETTE_WIDTH);
    /** @type {Uint8Array} */
    this.colours = arrays.colours;
    this.members = this.colours.length / 3;
    this.palette = this.makePalette(rows);
    this.marks = this.makePalette(rows);
    /** @type {WebGLRenderTarget | undefined} */
    this.target = undefined;
    this.kept = new Kept();
    this.fine = new Fine();
    for (const { mesh } of [this.kept, this.fine]) this.add(mesh);
    this.finely = false;
    this.sight = "";
    /** Triangles of a body of which a print is quicker to lay than they are to draw. */
    this.many = MANY;
    this.edged = false;
    /** @type {Mover[]} */
    this.movers = head.movers.map((/** @type {any} */ told, /** @type {number} */ n) =>
      new Mover(told, n, arrays, { palette: this.palette, marks: this.marks }, this.viewport));
    for (const mover of this.movers) for (const object of [...mover.objects, mover.print.mesh]) this.add(object);
    /** @type {Map<string, Mover>} */
    const named = new Map(this.movers.map((mover) => [mover.name, mover]));
    /** @type {(Mover | undefined)[]} */
    this.moverOf = head.bodies.flatMap((/** @type {any} */ body) =>
      body.marks.map(() => named.get(body.mover)));
    const most = Math.max(1, head.ropes.reduce(
      (/** @type {number} */ sum, /** @type {any} */ rope) => sum + rope.path.length, 0));
    this.ropes = new Ropes(most, this.viewport);
    this.add(this.ropes.mesh);
    this.column = this.makeHazard(columnGeometry());
    /** @type {Map<string, Mesh>} */
    this.falls = new Map(Object.entries(head.hazards.falls).map(([lift, rows_]) => {
      const corners = /** @type {number[][]} */ (rows_).flatMap(([x, y]) => [x, y, 0.03]);
      const ground = new BufferGeometry();
      ground.setAttribute("position", new BufferAttribute(new Float32Array(corners), 3));
      return [lift, this.makeHazard(ground)];
    }));
    this.renderer.compile(this.scene, this.camera);
    this.renderer.getContext().flush();
  }

  /** @param {number} rows */
  makePalette(rows) {
    const palette = new DataTexture(new Uint8Array(4 * PALETTE_WIDTH * rows), PALETTE_WIDTH, rows);
    palette.minFilter = palette.magFilter = NearestFilter;
    palette.unpackAlignment = 1;
    palette.needsUpdate = true;
    this.disposables.push(palette);
    return palette;
  }

  /** @template {import("three").Object3D} T @param {T} object @returns {T} */
  add(object) {
    object.frustumCulled = false;
    object.matrixAutoUpdate = false;
    object.matrixWorldAutoUpdate = false;
    this.scene.add(object);
    return object;
  }

  /** @param {BufferGeometry} geometry */
  makeHazard(geometry) {
    const material = new RawShaderMaterial({
      glslVersion: GLSL3, vertexShader: shaders.plainVertex, fragmentShader: shaders.plainFragment,
      uniforms: { uColour: { value: new Vector3(...HAZARD) }, uAlpha: { value: 0.16 } },
      side: DoubleSide, transparent: true, depthWrite: false,
    });
    const mesh = this.add(new Mesh(geometry, material));
    mesh.layers.set(LAYER.hazards);
    mesh.visible = false;
    this.disposables.push(geometry, material);
    return mesh;
  }

  /** @param {number} width @param {number} height @param {number} ratio
   * @param {boolean} finely whether it is drawn larger and brought down by `show` */
  setSize(width, height, ratio, finely) {
    this.finely = finely;
    if (finely) this.fine.target.setSize(FINER * width, FINER * height);
    if (width === this.size.width && height === this.size.height && ratio === this.ratio) return;
    this.size = { width, height };
    this.ratio = ratio;
    this.renderer.setPixelRatio(ratio);
    this.renderer.setSize(width, height, false);
  }

  /** Place every mover; null hides it. Edges take as long as faces, so they may wait for a rest.
   * @param {(name: string) => ArrayLike<number> | null} poseOf
   * @param {(name: string) => boolean} moves whether another place along this passage moves it
   * @param {boolean} edges */
  place(poseOf, moves, edges) {
    this.edged = edges;
    for (const mover of this.movers) mover.place(poseOf(mover.name), moves(mover.name));
  }

  /** Colour of every member; null hides it. @param {(member: number) => ArrayLike<number> | null} of */
  paint(of) {
    const texels = /** @type {Uint8Array} */ (this.palette.image.data);
    let changed = false;
    for (let n = 0, k = 0; n < this.members; n++, k += 4) {
      const colour = of(n);
      const seen = colour ? 255 : 0;
      if (texels[k + 3] !== seen) changed = true;
      texels[k + 3] = seen;
      for (let c = 0; colour && c < 3; c++) {
        const value = Math.floor(colour[c]);
        if (texels[k + c] !== value) changed = true;
        texels[k + c] = value;
      }
    }
    if (!changed) return;
    this.palette.needsUpdate = true;
    const colours = new Uint32Array(texels.buffer);
    for (const mover of this.movers) mover.paint(colours);
  }

  /** Members that stand out, in their own colours, over those they are painted in.
   * @param {Mark[]} marks the last of a member counts */
  mark(marks) {
    const texels = /** @type {Uint8Array} */ (this.marks.image.data);
    const painted = /** @type {Uint8Array} */ (this.palette.image.data);
    /** @type {Map<Mover, number[]>} */
    const members = new Map();
    for (const { member, colour } of marks) {
      const mover = this.moverOf[member];
      // What is hidden stays hidden.
      if (!mover || !painted[4 * member + 3]) continue;
      texels.set([colour[0], colour[1], colour[2], 255], 4 * member);
      members.set(mover, [...(members.get(mover) ?? []), member]);
    }
    this.marks.needsUpdate = true;
    for (const mover of this.movers) mover.mark([...new Set(members.get(mover))]);
  }

  /** Shadow below a section that moves, and ground beside the falls of its lift.
   * @param {{x: number, y: number, half: number, low: number, high: number} | null} shadow
   * @param {string | null} lift */
  setHazards(shadow, lift) {
    this.column.visible = shadow !== null && shadow.high > shadow.low;
    if (shadow) {
      this.column.matrixWorld.makeScale(shadow.half, shadow.half, shadow.high - shadow.low);
      this.column.matrixWorld.setPosition(shadow.x, shadow.y, shadow.low);
    }
    for (const [name, mesh] of this.falls) mesh.visible = name === lift;
  }

  /** Of what is drawn to what is shown. */
  get scale() {
    return this.finely ? FINER : this.ratio;
  }

  /** @param {Standpoint} at @param {Frame} frame */
  render(at, frame) {
    const keeps = this.stands(at, frame) && this.keep(at, frame, false);
    this.aim(at, frame.width, frame.height, this.scale);
    this.face(at, frame, this.movers.filter((mover) => mover.moving || !keeps));
    this.pass(frame, [...(keeps ? [LAYER.kept, LAYER.moving] : BODIES), ...BESIDES]);
  }

  /** @param {Standpoint} at @param {{width: number, height: number}} frame @param {Mover[]} movers */
  face(at, { width, height }, movers) {
    for (const mover of movers) if (mover.plain) mover.face(at, width / height, false);
  }

  /** A close view of little, laid over the picture. @param {Standpoint} at @param {Frame} frame */
  renderNear(at, frame) {
    this.aim(at, frame.width, frame.height, this.scale);
    for (const mover of this.movers) mover.face(at, frame.width / frame.height, true);
    this.pass(frame, [LAYER.near, LAYER.marks, LAYER.ropes]);
  }

  /** Whether the view stands as it stood; while it turns, nothing is worth keeping.
   * @param {Standpoint} at @param {Frame} frame */
  stands(at, frame) {
    const before = this.sight;
    this.sight = [at.focus, at.span, at.azimuth, at.rise, at.cut, at.eye, frame.width, frame.height].join();
    return this.software && !this.edged && this.sight === before;
  }

  /** Make ready what stands still, as one picture, and prints of all that has many triangles.
   * What is asked for once only is drawn as it is: it may be gone in the next picture.
   * @param {Standpoint} at @param {Frame} frame @param {boolean} now whether without being asked twice
   * @returns {boolean} whether what stands still is kept */
  keep(at, frame, now) {
    for (const mover of this.movers) this.lay(mover, at, frame, now);
    const { kept, renderer } = this;
    const still = this.movers.filter((mover) => !mover.moving);
    const key = [this.sight, ...still.map(({ paints, pose }) => `${paints} ${Array.from(pose ?? [])}`)].join("|");
    if (key === kept.key) return true;
    const asked = now || key === kept.wanted;
    kept.wanted = key;
    if (!asked) return false;
    kept.key = key;
    kept.target.setSize(frame.width, frame.height);
    renderer.setRenderTarget(kept.target);
    this.aim(at, frame.width, frame.height);
    this.face(at, frame, still);
    this.clear();
    this.look([LAYER.still]);
    renderer.setRenderTarget(null);
    return true;
  }

  /** Lay a body's print in its stead if it has one that is true, or is to have one.
   * @param {Mover} mover @param {Standpoint} at @param {Frame} frame @param {boolean} now */
  lay(mover, at, { width, height }, now) {
    const { print, pose, low, size } = mover;
    if (!pose || at.eye || at.cut !== null || mover.count < this.many) return;
    const key = [this.sight, mover.paints, ...Array.from(pose).slice(0, 12)].join();
    if (key !== print.key) {
      const asked = now || key === print.wanted;
      print.wanted = key;
      if (!asked) return;
      const whole = rectOf(pose, low, size, at, width, height);
      const rect = mover.fixed ? clipped(whole, width, height) : whole;
      if (!Print.fits(rect, width, height)) return;
      this.take(mover, through(at, rect, width, height), rect);
      print.key = key;
    }
    mover.lay(at, height);
  }

  /** @param {Mover} mover @param {Standpoint} at @param {import("./print.js").Rect} rect */
  take(mover, at, rect) {
    const { print, mesh, pose } = mover;
    this.aim(at, rect.width, rect.height);
    this.face(at, rect, [mover]);
    print.open(this.renderer, rect);
    print.pose = Array.from(/** @type {ArrayLike<number>} */ (pose));
    this.clear();
    const { mask } = mesh.layers;
    mesh.layers.set(LAYER.alone);
    this.look([LAYER.alone]);
    mesh.layers.mask = mask;
    this.renderer.setRenderTarget(null);
  }

  /** What was kept is no longer there. */
  forget() {
    this.kept.key = "";
    for (const { print } of this.movers) print.key = "";
  }

  /** Draw into a part of the picture. @param {Frame} frame @param {number[]} layers */
  pass(frame, layers) {
    const { renderer } = this;
    const { x, width, height } = frame;
    const bottom = this.size.height - frame.y - height;
    if (this.finely) this.fine.open(renderer, x, bottom, width, height);
    else {
      renderer.setViewport(x, bottom, width, height);
      renderer.setScissor(x, bottom, width, height);
      renderer.setScissorTest(true);
    }
    this.clear();
    this.look(this.edged ? [...layers, LAYER.edges] : layers);
    renderer.setRenderTarget(null);
    renderer.setScissorTest(false);
  }

  /** Bring what was drawn finely onto the canvas. */
  show() {
    if (!this.finely) return;
    this.renderer.setViewport(0, 0, this.size.width, this.size.height);
    this.look([LAYER.fine]);
  }

  clear() {
    // Each time, since a context that was lost and came back has forgotten it.
    this.renderer.setClearColor(this.paper, 1);
    this.renderer.clear();
  }

  /** @param {number[]} layers */
  look(layers) {
    this.camera.layers.mask = layers.reduce((mask, layer) => mask | (1 << layer), 0);
    this.renderer.render(this.scene, this.camera);
  }

  /** @param {Standpoint} at @param {number} width @param {number} height
   * @param {number} [scale] of what is drawn to what is shown */
  aim(at, width, height, scale = 1) {
    const { camera } = this;
    const { view, projection } = matrices(at, width, height);
    camera.matrixWorldInverse.fromArray(view);
    camera.matrixWorld.copy(camera.matrixWorldInverse).invert();
    camera.projectionMatrix.fromArray(projection);
    camera.projectionMatrixInverse.copy(camera.projectionMatrix).invert();
    this.viewport.set(width, height).multiplyScalar(scale);
    return projection;
  }

  /**
   * What is at a pixel: its member and place.
   * @param {Standpoint} at @param {number} x @param {number} y
   * @returns {{member: number, place: number[]} | null}
   */
  pick(at, x, y) {
    const { renderer, camera } = this;
    this.target ??= new WebGLRenderTarget(1, 1, { count: 2 });
    const { width, height } = this.size;
    const projection = this.aim(at, width, height);
    // The one pixel, spread over the whole of a target of one pixel.
    const zoom = new Matrix4().set(
      width, 0, 0, width - 2 * x, 0, height, 0, 2 * y - height, 0, 0, 1, 0, 0, 0, 0, 1);
    camera.projectionMatrix.premultiply(zoom);
    camera.projectionMatrixInverse.copy(camera.projectionMatrix).invert();
    for (const mover of this.movers) {
      mover.face(at, width / height, false);
      mover.mesh.material = mover.pick;
    }
    renderer.setRenderTarget(this.target);
    renderer.setClearAlpha(0);
    renderer.clear();
    this.look(BODIES);
    const [id, depth] = [new Uint8Array(4), new Uint8Array(4)];
    renderer.readRenderTargetPixels(this.target, 0, 0, 1, 1, id, undefined, 0);
    renderer.readRenderTargetPixels(this.target, 0, 0, 1, 1, depth, undefined, 1);
    renderer.setRenderTarget(null);
    if (id[3] === 0) return null;
    const member = id[0] + 256 * id[1] + 65536 * id[2];
    const z = (2 * (depth[0] * 65536 + depth[1] * 256 + depth[2])) / 16777215 - 1;
    const place = new Vector3((2 * x) / width - 1, 1 - (2 * y) / height, z)
      .applyMatrix4(new Matrix4().fromArray(projection).invert())
      .applyMatrix4(camera.matrixWorld);
    return { member, place: place.toArray() };
  }

  /** Whether the viewer stands below the ground's level. @param {Standpoint} at */
  static seesGround(at) {
    return at.eye ? at.eye[2] > 0 : axes(at).towards[2] > 0.02;
  }

  dispose() {
    for (const each of [...this.disposables, ...this.movers, this.ropes, this.kept, this.fine]) each.dispose();
    this.target?.dispose();
    this.renderer.dispose();
    this.renderer.forceContextLoss();
  }
}
