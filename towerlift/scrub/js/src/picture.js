// The tower in three dimensions. One draw call for each body that moves as one; a member's
// colour, and whether it is seen, is one texel of a palette, so that changing either sends
// no geometry. Drawn only when something has changed.

import {
  BufferAttribute,
  BufferGeometry,
  Camera,
  DataTexture,
  DoubleSide,
  FrontSide,
  GLSL3,
  InstancedBufferAttribute,
  InstancedBufferGeometry,
  LineSegments,
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
import { axes, matrices } from "./standpoint.js";
import * as shaders from "./shaders.js";

export const PAPER = [250, 249, 246];
const PALETTE_WIDTH = 256;
const MANY = 60_000; // triangles of a mover above which a close view leaves out what is far
export const HAZARD = [178, 38, 88];
const SOFTWARE = /swiftshader|llvmpipe|softpipe|software|basic render/i;

/** @typedef {import("./standpoint.js").Standpoint} Standpoint */
/** @typedef {{x: number, y: number, width: number, height: number}} Frame measured from above */

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
    this.renderer.autoClear = false;
    this.renderer.sortObjects = false;
    this.renderer.info.autoReset = false;
    this.renderer.setClearColor((PAPER[0] << 16) | (PAPER[1] << 8) | PAPER[2], 1);
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
    this.makePalette(arrays.colours);
    /** @type {{name: string, meshes: Mesh[], edges: LineSegments, pick: RawShaderMaterial,
     *   low: Vector3, size: Vector3, head: any, count: number}[]} */
    this.movers = head.movers.map((/** @type {any} */ mover, /** @type {number} */ n) =>
      this.makeMover(mover, n, arrays));
    this.makeRopes();
    this.makeHazards();
  }

  /** @param {Uint8Array} colours */
  makePalette(colours) {
    const count = colours.length / 3;
    const rows = Math.ceil(count / PALETTE_WIDTH);
    this.colours = colours;
    this.members = count;
    this.texels = new Uint8Array(4 * PALETTE_WIDTH * rows);
    this.palette = new DataTexture(this.texels, PALETTE_WIDTH, rows);
    this.palette.minFilter = this.palette.magFilter = NearestFilter;
    this.palette.unpackAlignment = 1;
    this.palette.needsUpdate = true;
    this.disposables.push(this.palette);
  }

  /** @param {any} mover @param {number} n @param {Record<string, any>} arrays */
  makeMover(mover, n, arrays) {
    const low = new Vector3(...mover.low);
    const size = new Vector3(...mover.size);
    const uniforms = { uLow: { value: low }, uSize: { value: size },
      uPalette: { value: this.palette } };
    const side = n === 0 ? FrontSide : DoubleSide;
    const material = new RawShaderMaterial({
      glslVersion: GLSL3, vertexShader: shaders.bodyVertex, fragmentShader: shaders.bodyFragment,
      uniforms, side, polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1,
    });
    const pick = new RawShaderMaterial({
      glslVersion: GLSL3, vertexShader: shaders.pickVertex, fragmentShader: shaders.pickFragment,
      uniforms, side,
    });
    const edge = new RawShaderMaterial({
      glslVersion: GLSL3, vertexShader: shaders.bodyVertex, fragmentShader: shaders.edgeFragment,
      uniforms,
    });
    const places = new BufferAttribute(arrays[`places${n}`], 3, true);
    const members = new BufferAttribute(arrays[`members${n}`], 1, false);
    const faces = new BufferAttribute(arrays[`faces${n}`], 1);
    const count = faces.count / 3;
    // Long triangles and the rest apart, so that a close view can draw but a part of the rest.
    const parts = count > MANY ? [[0, mover.nLong], [mover.nLong, count]] : [[0, count]];
    const meshes = parts.map(([first, last]) => {
      const geometry = new BufferGeometry();
      geometry.setAttribute("position", places);
      geometry.setAttribute("member", members);
      geometry.setIndex(faces);
      geometry.setDrawRange(3 * first, 3 * (last - first));
      this.disposables.push(geometry);
      return this.add(new Mesh(geometry, material));
    });
    const lines = new BufferGeometry();
    lines.setAttribute("position", places);
    lines.setAttribute("member", members);
    lines.setIndex(new BufferAttribute(arrays[`edges${n}`], 1));
    const edges = this.add(new LineSegments(lines, edge));
    this.disposables.push(lines, material, pick, edge);
    return { name: mover.name, meshes, edges, pick, low, size, head: mover, count };
  }

  /** @template {import("three").Object3D} T @param {T} object @returns {T} */
  add(object) {
    object.frustumCulled = false;
    object.matrixAutoUpdate = false;
    object.matrixWorldAutoUpdate = false;
    this.scene.add(object);
    return object;
  }

  makeRopes() {
    const most = Math.max(1, this.head.ropes.reduce(
      (/** @type {number} */ sum, /** @type {any} */ rope) => sum + rope.path.length, 0));
    const geometry = new InstancedBufferGeometry();
    geometry.setAttribute("position", new BufferAttribute(
      new Float32Array([0, -1, 1, -1, 1, 1, 0, -1, 1, 1, 0, 1]), 2));
    this.ropeStarts = new InstancedBufferAttribute(new Float32Array(3 * most), 3);
    this.ropeStops = new InstancedBufferAttribute(new Float32Array(3 * most), 3);
    this.ropeRadii = new InstancedBufferAttribute(new Float32Array(most), 1);
    geometry.setAttribute("start", this.ropeStarts);
    geometry.setAttribute("stop", this.ropeStops);
    geometry.setAttribute("radius", this.ropeRadii);
    const material = new RawShaderMaterial({
      glslVersion: GLSL3, vertexShader: shaders.ropeVertex, fragmentShader: shaders.plainFragment,
      uniforms: { uViewport: { value: this.viewport }, uColour: { value: new Vector3(58, 84, 120) },
        uAlpha: { value: 1 } }, side: DoubleSide,
    });
    this.ropes = this.add(new Mesh(geometry, material));
    this.ropeGeometry = geometry;
    geometry.instanceCount = 0;
    this.disposables.push(geometry, material);
  }

  makeHazards() {
    const plain = () => new RawShaderMaterial({
      glslVersion: GLSL3, vertexShader: shaders.plainVertex, fragmentShader: shaders.plainFragment,
      uniforms: { uColour: { value: new Vector3(...HAZARD) }, uAlpha: { value: 0.16 } },
      side: DoubleSide, transparent: true, depthWrite: false,
    });
    const box = new BufferGeometry();
    const corners = [];
    for (const z of [0, 1]) for (const [x, y] of [[-1, -1], [1, -1], [1, 1], [-1, 1]]) corners.push(x, y, z);
    box.setAttribute("position", new BufferAttribute(new Float32Array(corners), 3));
    box.setIndex([0, 1, 5, 0, 5, 4, 1, 2, 6, 1, 6, 5, 2, 3, 7, 2, 7, 6, 3, 0, 4, 3, 4, 7]);
    this.column = this.add(new Mesh(box, plain()));
    this.column.visible = false;
    this.disposables.push(box, /** @type {RawShaderMaterial} */ (this.column.material));
    /** @type {Map<string, Mesh>} */
    this.falls = new Map();
    for (const [lift, flat] of Object.entries(this.head.hazards.falls)) {
      const rows = /** @type {number[][]} */ (flat);
      const ground = new BufferGeometry();
      ground.setAttribute("position", new BufferAttribute(
        new Float32Array(rows.flatMap(([x, y]) => [x, y, 0.03])), 3));
      const mesh = this.add(new Mesh(ground, plain()));
      mesh.visible = false;
      this.falls.set(lift, mesh);
      this.disposables.push(ground, /** @type {RawShaderMaterial} */ (mesh.material));
    }
  }

  /** @param {number} width @param {number} height @param {number} ratio */
  setSize(width, height, ratio) {
    if (width === this.size.width && height === this.size.height && ratio === this.ratio) return;
    this.size = { width, height };
    this.ratio = ratio;
    this.renderer.setPixelRatio(ratio);
    this.renderer.setSize(width, height, false);
  }

  /** Place every mover; null hides it. @param {(string) => ArrayLike<number> | null} poseOf */
  place(poseOf) {
    for (const mover of this.movers) {
      const pose = poseOf(mover.name);
      for (const object of [...mover.meshes, mover.edges]) {
        object.visible = pose !== null;
        if (pose) object.matrixWorld.fromArray(pose);
      }
    }
  }

  /** Colour of every member; null hides it. @param {(member: number) => ArrayLike<number> | null} of */
  paint(of) {
    const { texels } = this;
    for (let n = 0; n < this.members; n++) {
      const colour = of(n);
      texels[4 * n + 3] = colour ? 255 : 0;
      if (!colour) continue;
      texels[4 * n] = colour[0];
      texels[4 * n + 1] = colour[1];
      texels[4 * n + 2] = colour[2];
    }
    this.palette.needsUpdate = true;
  }

  /** @param {{points: number[][], radius: number}[]} ropes */
  setRopes(ropes) {
    let k = 0;
    for (const { points, radius } of ropes) {
      for (let n = 0; n + 1 < points.length; n++, k++) {
        this.ropeStarts.array.set(points[n], 3 * k);
        this.ropeStops.array.set(points[n + 1], 3 * k);
        this.ropeRadii.array[k] = radius;
      }
    }
    this.ropeStarts.needsUpdate = this.ropeStops.needsUpdate = true;
    this.ropeRadii.needsUpdate = true;
    this.ropeGeometry.instanceCount = k;
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

  /** @param {Standpoint} at @param {Frame} frame @param {{clear: boolean, near: number | null}} how */
  render(at, frame, { clear, near }) {
    const { renderer, camera } = this;
    const { view, projection } = matrices(at, frame.width, frame.height);
    camera.matrixWorldInverse.fromArray(view);
    camera.matrixWorld.copy(camera.matrixWorldInverse).invert();
    camera.projectionMatrix.fromArray(projection);
    camera.projectionMatrixInverse.copy(camera.projectionMatrix).invert();
    this.viewport.set(frame.width * this.ratio, frame.height * this.ratio);
    const bottom = this.size.height - frame.y - frame.height;
    renderer.setViewport(frame.x, bottom, frame.width, frame.height);
    renderer.setScissor(frame.x, bottom, frame.width, frame.height);
    renderer.setScissorTest(true);
    if (clear) renderer.clear();
    this.leaveOut(near === null ? null : at, near ?? 0);
    renderer.render(this.scene, camera);
    renderer.setScissorTest(false);
  }

  /** Draw of the large bodies only what is near a close view. @param {Standpoint | null} at
   * @param {number} reach [m] */
  leaveOut(at, reach) {
    for (const mover of this.movers) {
      if (mover.meshes.length < 2) continue;
      const rest = mover.meshes[1].geometry;
      const { nLong, chunks } = mover.head;
      let [first, last] = [nLong, mover.count];
      if (at) {
        const z = at.focus[2] - mover.meshes[1].matrixWorld.elements[14];
        const near = chunks.filter((/** @type {number[]} */ c) => c[2] <= z + reach && c[3] >= z - reach);
        first = near.length ? near[0][0] : 0;
        last = near.length ? near[near.length - 1][0] + near[near.length - 1][1] : 0;
      }
      rest.setDrawRange(3 * first, 3 * (last - first));
    }
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
    const { view, projection } = matrices(at, width, height);
    // The one pixel, spread over the whole of a target of one pixel.
    const zoom = new Matrix4().set(
      width, 0, 0, width - 2 * x, 0, height, 0, 2 * y - height, 0, 0, 1, 0, 0, 0, 0, 1);
    camera.matrixWorldInverse.fromArray(view);
    camera.matrixWorld.copy(camera.matrixWorldInverse).invert();
    camera.projectionMatrix.fromArray(projection).premultiply(zoom);
    camera.projectionMatrixInverse.copy(camera.projectionMatrix).invert();
    const hidden = [this.ropes, this.column, ...this.falls.values(),
      ...this.movers.map((mover) => mover.edges)].filter((object) => object.visible);
    const drawn = this.movers.map((mover) => mover.meshes.map((mesh) => mesh.material));
    for (const object of hidden) object.visible = false;
    for (const mover of this.movers) for (const mesh of mover.meshes) mesh.material = mover.pick;
    this.leaveOut(null, 0);
    renderer.setRenderTarget(this.target);
    renderer.setClearAlpha(0);
    renderer.clear();
    renderer.render(this.scene, camera);
    const [id, depth] = [new Uint8Array(4), new Uint8Array(4)];
    renderer.readRenderTargetPixels(this.target, 0, 0, 1, 1, id, undefined, 0);
    renderer.readRenderTargetPixels(this.target, 0, 0, 1, 1, depth, undefined, 1);
    renderer.setRenderTarget(null);
    renderer.setClearAlpha(1);
    for (const object of hidden) object.visible = true;
    this.movers.forEach((mover, n) => mover.meshes.forEach((mesh, k) => {
      mesh.material = drawn[n][k];
    }));
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
    for (const each of this.disposables) each.dispose();
    this.target?.dispose();
    this.renderer.dispose();
    this.renderer.forceContextLoss();
  }
}
