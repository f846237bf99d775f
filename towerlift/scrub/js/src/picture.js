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
import { axes, dot, matrices } from "./standpoint.js";
import * as shaders from "./shaders.js";

export const PAPER = [250, 249, 246];
const PALETTE_WIDTH = 256;
const MANY = 20_000; // triangles of a mover above which what cannot be seen is left out by chunks
const HAZARD = [178, 38, 88];
const ROPE = [58, 84, 120];
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

/** A direction of the shaft in a body's own frame.
 * @param {number[]} way @param {ArrayLike<number>} pose */
const within = (way, pose) =>
  [0, 4, 8].map((k) => pose[k] * way[0] + pose[k + 1] * way[1] + pose[k + 2] * way[2]);

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
    this.texels = new Uint8Array(4 * PALETTE_WIDTH * rows);
    this.palette = new DataTexture(this.texels, PALETTE_WIDTH, rows);
    this.palette.minFilter = this.palette.magFilter = NearestFilter;
    this.palette.unpackAlignment = 1;
    this.disposables.push(this.palette);
    /** @type {WebGLRenderTarget | undefined} */
    this.target = undefined;
    /** @type {{name: string, mesh: Mesh, edges: LineSegments, pick: RawShaderMaterial[],
     *   whole: RawShaderMaterial[], open: RawShaderMaterial[], chunks: number[][],
     *   count: number}[]} */
    this.movers = head.movers.map((/** @type {any} */ mover, /** @type {number} */ n) =>
      this.makeMover(mover, n, arrays));
    const most = Math.max(1, head.ropes.reduce(
      (/** @type {number} */ sum, /** @type {any} */ rope) => sum + rope.path.length, 0));
    this.ropeStarts = new InstancedBufferAttribute(new Float32Array(3 * most), 3);
    this.ropeStops = new InstancedBufferAttribute(new Float32Array(3 * most), 3);
    this.ropeRadii = new InstancedBufferAttribute(new Float32Array(most), 1);
    this.ropeGeometry = this.makeRopeGeometry();
    const rope = new RawShaderMaterial({
      glslVersion: GLSL3, vertexShader: shaders.ropeVertex, fragmentShader: shaders.plainFragment,
      uniforms: { uViewport: { value: this.viewport }, uColour: { value: new Vector3(...ROPE) },
        uAlpha: { value: 1 } },
      side: DoubleSide,
    });
    this.ropes = this.add(new Mesh(this.ropeGeometry, rope));
    this.column = this.makeHazard(columnGeometry());
    /** @type {Map<string, Mesh>} */
    this.falls = new Map(Object.entries(head.hazards.falls).map(([lift, rows_]) => {
      const corners = /** @type {number[][]} */ (rows_).flatMap(([x, y]) => [x, y, 0.03]);
      const ground = new BufferGeometry();
      ground.setAttribute("position", new BufferAttribute(new Float32Array(corners), 3));
      return [lift, this.makeHazard(ground)];
    }));
    this.disposables.push(this.ropeGeometry, rope);
  }

  /** @param {any} mover @param {number} n @param {Record<string, any>} arrays */
  makeMover(mover, n, arrays) {
    const low = new Vector3(...mover.low);
    const size = new Vector3(...mover.size);
    const uniforms = { uLow: { value: low }, uSize: { value: size },
      uPalette: { value: this.palette } };
    const side = n === 0 ? FrontSide : DoubleSide;
    /** @param {import("three").Side} side_ */
    const body = (side_) => new RawShaderMaterial({
      glslVersion: GLSL3, vertexShader: shaders.bodyVertex, fragmentShader: shaders.bodyFragment,
      uniforms, side: side_,
    });
    const pick = new RawShaderMaterial({
      glslVersion: GLSL3, vertexShader: shaders.pickVertex, fragmentShader: shaders.pickFragment,
      uniforms, side,
    });
    const edge = new RawShaderMaterial({
      glslVersion: GLSL3, vertexShader: shaders.edgeVertex, fragmentShader: shaders.edgeFragment,
      uniforms,
    });
    const places = new BufferAttribute(arrays[`places${n}`], 3, true);
    const members = new BufferAttribute(arrays[`members${n}`], 1, false);
    const faces = new BufferAttribute(arrays[`faces${n}`], 1);
    // Bodies are closed, so that backs are seen only where a view is cut open.
    const [whole, open] = [[body(FrontSide)], [body(side)]];
    const geometry = new BufferGeometry();
    geometry.setAttribute("position", places);
    geometry.setAttribute("member", members);
    geometry.setIndex(faces);
    const mesh = this.add(new Mesh(geometry, whole));
    const lines = new BufferGeometry();
    lines.setAttribute("position", places);
    lines.setAttribute("member", members);
    lines.setIndex(new BufferAttribute(arrays[`edges${n}`], 1));
    const edges = this.add(new LineSegments(lines, edge));
    this.disposables.push(geometry, lines, ...whole, ...open, pick, edge);
    return { name: mover.name, mesh, edges, pick: [pick], whole, open, chunks: mover.chunks,
      count: faces.count / 3 };
  }

  /** @template {import("three").Object3D} T @param {T} object @returns {T} */
  add(object) {
    object.frustumCulled = false;
    object.matrixAutoUpdate = false;
    object.matrixWorldAutoUpdate = false;
    this.scene.add(object);
    return object;
  }

  makeRopeGeometry() {
    // One strip of two triangles for each straight piece, widened across it in the shader.
    const geometry = new InstancedBufferGeometry();
    geometry.setAttribute("position", new BufferAttribute(
      new Float32Array([0, -1, 1, -1, 1, 1, 0, -1, 1, 1, 0, 1]), 2));
    geometry.setAttribute("start", this.ropeStarts);
    geometry.setAttribute("stop", this.ropeStops);
    geometry.setAttribute("radius", this.ropeRadii);
    geometry.instanceCount = 0;
    return geometry;
  }

  /** @param {BufferGeometry} geometry */
  makeHazard(geometry) {
    const material = new RawShaderMaterial({
      glslVersion: GLSL3, vertexShader: shaders.plainVertex, fragmentShader: shaders.plainFragment,
      uniforms: { uColour: { value: new Vector3(...HAZARD) }, uAlpha: { value: 0.16 } },
      side: DoubleSide, transparent: true, depthWrite: false,
    });
    const mesh = this.add(new Mesh(geometry, material));
    mesh.visible = false;
    this.disposables.push(geometry, material);
    return mesh;
  }

  /** @param {number} width @param {number} height @param {number} ratio */
  setSize(width, height, ratio) {
    if (width === this.size.width && height === this.size.height && ratio === this.ratio) return;
    this.size = { width, height };
    this.ratio = ratio;
    this.renderer.setPixelRatio(ratio);
    this.renderer.setSize(width, height, false);
  }

  /** Place every mover; null hides it. Edges take as long as faces, so they may wait for a rest.
   * @param {(name: string) => ArrayLike<number> | null} poseOf @param {boolean} edges */
  place(poseOf, edges) {
    for (const mover of this.movers) {
      const pose = poseOf(mover.name);
      for (const object of [mover.mesh, mover.edges]) {
        object.visible = pose !== null && (edges || object === mover.mesh);
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

  /** @param {Standpoint} at @param {Frame} frame */
  render(at, frame) {
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
    // Each time, since a context that was lost and came back has forgotten it.
    renderer.setClearColor((PAPER[0] << 16) | (PAPER[1] << 8) | PAPER[2], 1);
    renderer.clear();
    this.leaveOut(at, frame.width / frame.height);
    renderer.render(this.scene, camera);
    renderer.setScissorTest(false);
  }

  /** Of the large bodies, leave out what faces away and what lies outside the picture.
   * @param {Standpoint} at @param {number} aspect */
  leaveOut(at, aspect) {
    const cut = at.cut !== null;
    const { right, up, towards } = axes(at);
    for (const mover of this.movers) {
      const { mesh, chunks } = mover;
      mesh.material = cut ? mover.open : mover.whole;
      mesh.geometry.clearGroups();
      if (mover.count < MANY || at.eye) {
        mesh.geometry.addGroup(0, 3 * mover.count, 0);
        continue;
      }
      const pose = mesh.matrixWorld.elements;
      const shift = [0, 1, 2].map((k) => pose[12 + k] - at.focus[k]);
      const [r, u, t] = [right, up, towards].map((way) => within(way, pose));
      const [r0, u0, t0] = [right, up, towards].map((way) => dot(way, shift));
      const backs = cut && mover.name !== "shaft";
      const [wide, high] = [0.5 * at.span * aspect, 0.5 * at.span];
      let [first, last] = [0, 0];
      for (const [begin, count, x, y, z, radius, wx, wy, wz, spread] of chunks) {
        const unseen = (!backs && spread >= 0 && wx * t[0] + wy * t[1] + wz * t[2] <= -spread)
          || Math.abs(x * r[0] + y * r[1] + z * r[2] + r0) > wide + radius
          || Math.abs(x * u[0] + y * u[1] + z * u[2] + u0) > high + radius
          || (at.cut !== null && x * t[0] + y * t[1] + z * t[2] + t0 > at.cut + radius);
        if (unseen) continue;
        if (begin !== last) {
          if (last > first) mesh.geometry.addGroup(3 * first, 3 * (last - first), 0);
          first = begin;
        }
        last = begin + count;
      }
      if (last > first) mesh.geometry.addGroup(3 * first, 3 * (last - first), 0);
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
    /** @type {import("three").Object3D[]} */
    const others = [this.ropes, this.column, ...this.falls.values(),
      ...this.movers.map((mover) => mover.edges)];
    const hidden = others.filter((object) => object.visible);
    for (const object of hidden) object.visible = false;
    this.leaveOut(at, width / height);
    for (const mover of this.movers) mover.mesh.material = mover.pick;
    renderer.setRenderTarget(this.target);
    renderer.setClearAlpha(0);
    renderer.clear();
    renderer.render(this.scene, camera);
    const [id, depth] = [new Uint8Array(4), new Uint8Array(4)];
    renderer.readRenderTargetPixels(this.target, 0, 0, 1, 1, id, undefined, 0);
    renderer.readRenderTargetPixels(this.target, 0, 0, 1, 1, depth, undefined, 1);
    renderer.setRenderTarget(null);
    for (const object of hidden) object.visible = true;
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
