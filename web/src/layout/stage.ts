// What is drawn: one renderer, one canvas, four views cut out of it. z is up, as everywhere in the program.
import {
  AmbientLight,
  BatchedMesh,
  BufferAttribute,
  BufferGeometry,
  Camera,
  Color,
  ConeGeometry,
  DirectionalLight,
  DoubleSide,
  DynamicDrawUsage,
  EdgesGeometry,
  ExtrudeGeometry,
  InstancedMesh,
  LineBasicMaterial,
  LineSegments,
  Matrix4,
  Mesh,
  MeshBasicMaterial,
  MeshLambertMaterial,
  Object3D,
  OrthographicCamera,
  PerspectiveCamera,
  Plane,
  Quaternion,
  Raycaster,
  Scene as Drawn,
  Shape,
  ShapeGeometry,
  SphereGeometry,
  TorusGeometry,
  Vector2,
  Vector3,
  WebGLRenderer,
} from "three";
import { Board, poseOf, type Pose, type View } from "./board";
import { floats, wholes, type BedItem, type Cleaning, type Glass, type Placed, type Scene } from "./calls";

/** What lies under a finger. */
export interface Under {
  view: View;
  number?: number;
  handle?: number;
  gizmo?: "ring" | "arrow";
  bed?: Vector3;
}

Object3D.DEFAULT_UP.set(0, 0, 1);

const STONE = { rounded: 0x8f948f, angular: 0x7f8890, slab: 0x6f7a80, pitted: 0x9a8a78, branching: 0x7a5636 } as Record<string, number>;
const CHOSEN = new Color(0x0b8fa0);
const LOCKED = new Color(0x5c6f9a);
const HANDLES = 4;
/** A frame that comes later than this makes the views beside wait, each time but every so manieth. */
const SLOW_MS = 40;
const OTHERS_EACH = 5;
const WIDEST_PX = 1.6;

/** What three dimensions are drawn with; undefined where the browser has none. */
export function contextOf(canvas: HTMLCanvasElement): WebGL2RenderingContext | undefined {
  try {
    return canvas.getContext("webgl2", { alpha: true, antialias: true, depth: true, stencil: false, preserveDrawingBuffer: true }) ?? undefined;
  } catch {
    return undefined;
  }
}

export class Stage extends Board {
  private readonly renderer: WebGLRenderer;
  private readonly drawn = new Drawn();
  private readonly cameras = new Map<View, Camera>();
  private readonly geometry = new Map<string, number>();
  private readonly instances = new Map<number, { id: number; piece: string }>();
  private readonly batch: BatchedMesh;
  private readonly bedMesh: Mesh<BufferGeometry, MeshLambertMaterial>;
  private readonly handles: InstancedMesh;
  private readonly ring: Mesh;
  private readonly arrow: Mesh;
  private readonly unclean: InstancedMesh;
  private readonly ray = new Raycaster();
  private readonly middle: Vector3;
  private readonly size: Vector3;
  private bed?: { x: number[]; y: number[]; top: Float32Array };
  private chosen: number | undefined;
  private locked = new Set<number>();
  private dirty = true;
  private orbit = { round: -0.5, up: 0.45, far: 1 };
  private listeners: (() => void)[] = [];
  readonly stats = { ms: 0, calls: 0, triangles: 0, frames: 0 };

  constructor(
    private readonly canvas: HTMLCanvasElement,
    context: WebGL2RenderingContext,
    private readonly around: HTMLElement,
    scene: Scene,
  ) {
    super(scene.pieces);
    this.renderer = new WebGLRenderer({ canvas, context, antialias: true, preserveDrawingBuffer: true });
    this.renderer.setClearColor(0xe9eff0);
    this.renderer.info.autoReset = false;
    const xs = scene.glass.corners_m.map(([x]) => x as number);
    const ys = scene.glass.corners_m.map(([, y]) => y as number);
    this.size = new Vector3(Math.max(...xs) - Math.min(...xs), Math.max(...ys) - Math.min(...ys), scene.glass.height_m);
    this.middle = new Vector3((Math.max(...xs) + Math.min(...xs)) / 2, (Math.max(...ys) + Math.min(...ys)) / 2, scene.glass.height_m / 2);

    this.drawn.add(new AmbientLight(0xffffff, 1.5));
    const lamp = new DirectionalLight(0xffffff, 2.2);
    lamp.position.set(0.4, -0.6, 1.4);
    this.drawn.add(lamp, ...glassOf(scene.glass));

    let corners = 0;
    let edges = 0;
    for (const piece of scene.pieces) {
      corners += atobLength(piece.vertices_m) / 12;
      edges += atobLength(piece.faces) / 2;
    }
    this.batch = new BatchedMesh(Math.max(1, 2 * scene.pieces.length), Math.max(3, corners), Math.max(3, edges), new MeshLambertMaterial({ flatShading: true }));
    this.batch.sortObjects = false;
    for (const piece of scene.pieces) {
      const made = new BufferGeometry();
      made.setAttribute("position", new BufferAttribute(floats(piece.vertices_m), 3));
      made.setIndex(new BufferAttribute(wholes(piece.faces), 1));
      this.geometry.set(piece.key, this.batch.addGeometry(made));
    }
    this.drawn.add(this.batch);

    this.bedMesh = new Mesh(new BufferGeometry(), new MeshLambertMaterial({ color: 0x5b4a3a, side: DoubleSide }));
    this.drawn.add(this.bedMesh);

    this.handles = new InstancedMesh(new SphereGeometry(this.size.length() * 0.012, 12, 8), new MeshBasicMaterial({ color: 0xd9822b }), HANDLES * HANDLES);
    this.handles.visible = false;
    this.drawn.add(this.handles);

    const gizmo = new MeshBasicMaterial({ color: 0xd9822b, depthTest: false });
    this.ring = new Mesh(new TorusGeometry(1, 0.06, 8, 48), gizmo);
    this.arrow = new Mesh(new ConeGeometry(0.3, 0.8, 16).rotateX(Math.PI / 2), gizmo);
    this.ring.visible = this.arrow.visible = false;
    this.ring.renderOrder = this.arrow.renderOrder = 1;
    this.drawn.add(this.ring, this.arrow);

    this.unclean = new InstancedMesh(new SphereGeometry(1, 6, 4), new MeshBasicMaterial({ color: 0xb3261e, transparent: true, opacity: 0.6 }), 1);
    this.unclean.count = 0;
    // What is shown to nobody yet is not compiled for the graphics card before the first picture.
    this.unclean.visible = false;
    this.drawn.add(this.unclean);

    this.cameras.set("turn", new PerspectiveCamera(38, 1, 0.05, 100));
    for (const view of ["front", "rear", "left", "right", "above"] as const) this.cameras.set(view, new OrthographicCamera(-1, 1, 1, -1, 0.01, 100));
    this.aim();

    new ResizeObserver(() => this.redraw()).observe(around);
    const frame = () => {
      if (this.dirty) this.draw();
      requestAnimationFrame(frame);
    };
    requestAnimationFrame(frame);
  }

  /** Told after each frame. */
  after(listener: () => void): void {
    this.listeners.push(listener);
  }

  redraw(): void {
    this.dirty = true;
  }

  // ------------------------------------------------------------ what stands where

  protected pieceOf(number: number): string {
    return this.instances.get(number)!.piece;
  }

  show(placements: readonly Placed[], bed: BedItem | null | undefined): void {
    const there = new Map(placements.map((item) => [item.number, item]));
    for (const [number, { id, piece }] of this.instances) {
      if (there.get(number)?.piece !== piece) {
        this.batch.deleteInstance(id);
        this.instances.delete(number);
        this.poses.delete(number);
      }
    }
    this.locked = new Set(placements.filter((item) => item.locked).map((item) => item.number));
    for (const item of placements) {
      if (!this.instances.has(item.number)) {
        const id = this.batch.addInstance(this.geometry.get(item.piece)!);
        this.instances.set(item.number, { id, piece: item.piece });
      }
      this.stand(item.number, poseOf(item));
    }
    this.batch.computeBoundingSphere();
    this.placeGizmo();
    if (bed) this.showBed(bed);
    this.tint();
  }

  /** Put a piece so on screen only. */
  pose(number: number, pose: Pose): void {
    if (!this.instances.has(number)) return;
    this.stand(number, pose);
    this.batch.computeBoundingSphere();
    if (number === this.chosen) this.placeGizmo();
    this.redraw();
  }

  private stand(number: number, pose: Pose): void {
    this.poses.set(number, { position: pose.position.clone(), turn: pose.turn.clone() });
    this.batch.setMatrixAt(this.instances.get(number)!.id, new Matrix4().compose(pose.position, pose.turn, new Vector3(1, 1, 1)));
  }

  choose(number: number | undefined): void {
    this.chosen = number;
    this.tint();
    this.placeGizmo();
  }

  private tint(): void {
    for (const [number, { id, piece }] of this.instances) {
      const own = new Color(STONE[this.pieces.get(piece)!.look] ?? 0x888888);
      const shift = ((number * 37) % 11) / 11 - 0.5;
      own.offsetHSL(0, 0, 0.06 * shift);
      if (this.locked.has(number)) own.lerp(LOCKED, 0.5);
      this.batch.setColorAt(id, number === this.chosen ? own.lerp(CHOSEN, 0.65) : own);
    }
    this.redraw();
  }

  private placeGizmo(): void {
    const shown = this.chosen !== undefined && this.instances.has(this.chosen) && !this.handles.visible;
    this.ring.visible = this.arrow.visible = shown;
    if (!shown) return this.redraw();
    const { piece } = this.instances.get(this.chosen!)!;
    const [length, width, height] = this.pieces.get(piece)!.size_m as [number, number, number];
    const radius = 0.62 * Math.hypot(length, width);
    const centre = this.centre(this.chosen!);
    this.ring.position.copy(centre);
    this.ring.scale.set(radius, radius, radius);
    this.arrow.position.copy(centre).add(new Vector3(0, 0, height / 2 + 0.45 * radius));
    this.arrow.scale.setScalar(0.55 * radius);
    this.redraw();
  }

  // ------------------------------------------------------------ the bed

  private showBed(bed: BedItem): void {
    this.bed = { x: [...bed.x_m], y: [...bed.y_m], top: floats(bed.top_m) };
    const { x, y, top } = this.bed;
    const corners = new Float32Array(3 * x.length * y.length);
    const faces = new Uint32Array(6 * (x.length - 1) * (y.length - 1));
    for (let j = 0, n = 0; j < y.length; j++) for (let i = 0; i < x.length; i++, n++) corners.set([x[i]!, y[j]!, top[n]!], 3 * n);
    for (let j = 0, n = 0; j + 1 < y.length; j++) {
      for (let i = 0; i + 1 < x.length; i++, n += 6) {
        const a = j * x.length + i;
        const b = a + x.length;
        faces.set([a, a + 1, b + 1, a, b + 1, b], n);
      }
    }
    const made = new BufferGeometry();
    made.setAttribute("position", new BufferAttribute(corners, 3).setUsage(DynamicDrawUsage));
    made.setIndex(new BufferAttribute(faces, 1));
    made.computeVertexNormals();
    this.bedMesh.geometry.dispose();
    this.bedMesh.geometry = made;
    this.placeHandles();
  }

  /** Raise (or with less than nothing lower) the bed on screen only, fading to the edge of a circle. */
  swell(at: Vector3, radius: number, height: number): void {
    if (!this.bed) return;
    const { x, y, top } = this.bed;
    const place = this.bedMesh.geometry.getAttribute("position") as BufferAttribute;
    for (let j = 0, n = 0; j < y.length; j++) {
      for (let i = 0; i < x.length; i++, n++) {
        const away = Math.hypot(x[i]! - at.x, y[j]! - at.y) / radius;
        if (away < 1) {
          top[n] = Math.max(0, top[n]! + height * 0.5 * (1 + Math.cos(Math.PI * away)));
          place.setZ(n, top[n]!);
        }
      }
    }
    place.needsUpdate = true;
    this.bedMesh.geometry.computeVertexNormals();
    this.bedMesh.geometry.computeBoundingSphere();
    this.placeHandles();
    this.redraw();
  }

  heightAt(px: number, py: number): number {
    if (!this.bed) return 0;
    const { x, y, top } = this.bed;
    const near = (line: number[], at: number) => Math.min(line.length - 1, Math.max(0, Math.round(((at - line[0]!) / (line[line.length - 1]! - line[0]!)) * (line.length - 1))));
    return top[near(y, py) * x.length + near(x, px)]!;
  }

  private handleAt(n: number): Vector3 {
    const share = (k: number) => (k + 0.5) / HANDLES - 0.5;
    const px = this.middle.x + this.size.x * share(n % HANDLES);
    const py = this.middle.y + this.size.y * share(Math.floor(n / HANDLES));
    return new Vector3(px, py, this.heightAt(px, py));
  }

  handle(n: number): Vector3 {
    return this.handleAt(n);
  }

  /** So far a handle reaches. */
  handleReach(): number {
    return Math.max(this.size.x, this.size.y) / HANDLES;
  }

  private placeHandles(): void {
    for (let n = 0; n < HANDLES * HANDLES; n++) this.handles.setMatrixAt(n, new Matrix4().setPosition(this.handleAt(n)));
    this.handles.instanceMatrix.needsUpdate = true;
    this.handles.computeBoundingSphere();
  }

  shaping(on: boolean): void {
    this.handles.visible = on;
    this.placeGizmo();
  }

  // ------------------------------------------------------------ glass that no hand reaches

  showUnclean(found: Cleaning | undefined): void {
    const places = found ? found.panes.map((pane) => floats(pane.at_m)) : [];
    const count = places.reduce((sum, at) => sum + at.length / 3, 0);
    if (count > this.unclean.instanceMatrix.count) {
      this.unclean.instanceMatrix = new BufferAttribute(new Float32Array(16 * count), 16) as never;
    }
    this.unclean.count = count;
    this.unclean.visible = count > 0;
    let n = 0;
    const radius = (found?.cell_m ?? 0.01) * 0.55;
    for (const at of places) {
      for (let k = 0; k < at.length; k += 3, n++) {
        this.unclean.setMatrixAt(n, new Matrix4().makeScale(radius, radius, radius).setPosition(at[k]!, at[k + 1]!, at[k + 2]!));
      }
    }
    this.unclean.instanceMatrix.needsUpdate = true;
    this.unclean.computeBoundingSphere();
    this.redraw();
  }

  // ------------------------------------------------------------ eyes

  spin(dx: number, dy: number): void {
    this.orbit.round -= dx * 0.008;
    this.orbit.up = Math.min(1.5, Math.max(-0.1, this.orbit.up + dy * 0.006));
    this.aim();
  }

  zoom(share: number): void {
    this.orbit.far = Math.min(2.5, Math.max(0.35, this.orbit.far * share));
    this.aim();
  }

  private aim(): void {
    const reach = this.size.length() * 1.55 * this.orbit.far;
    const { round, up } = this.orbit;
    const eye = this.cameras.get("turn") as PerspectiveCamera;
    eye.position.set(Math.sin(round) * Math.cos(up), -Math.cos(round) * Math.cos(up), Math.sin(up)).multiplyScalar(reach).add(this.middle);
    eye.lookAt(this.middle.clone().setZ(this.middle.z * 0.8));
    const from: Record<string, [number, number, number]> = { front: [0, -1, 0], rear: [0, 1, 0], left: [-1, 0, 0], right: [1, 0, 0], above: [0, 0, 1] };
    for (const [view, direction] of Object.entries(from)) {
      const camera = this.cameras.get(view as View)!;
      camera.position.set(...direction).multiplyScalar(10).add(this.middle);
      if (view === "above") camera.up.set(0, 1, 0);
      camera.lookAt(this.middle);
    }
    this.redraw();
  }

  private fit(view: View, width: number, height: number): Camera {
    const camera = this.cameras.get(view)!;
    if (camera instanceof PerspectiveCamera) {
      camera.aspect = width / height;
      camera.fov = width < height ? 38 * Math.min(1.5, height / width) : 38;
      camera.updateProjectionMatrix();
    } else if (camera instanceof OrthographicCamera) {
      const along = view === "left" || view === "right" ? this.size.y : this.size.x;
      const tall = view === "above" ? this.size.y : this.size.z;
      const half = Math.max((along * 0.56 * height) / width, tall * 0.58);
      camera.top = half;
      camera.bottom = -half;
      camera.right = (half * width) / height;
      camera.left = -camera.right;
      camera.updateProjectionMatrix();
    }
    camera.updateMatrixWorld();
    return camera;
  }

  /** Where a point of the tank lies in a view, in pixels from its left upper corner; undefined beyond its edge. */
  spot(at: Vector3, view: View, box: HTMLElement): [number, number] | undefined {
    const { clientWidth: width, clientHeight: height } = box;
    const seen = at.clone().project(this.cameras.get(view)!);
    if (Math.abs(seen.x) > 1 || Math.abs(seen.y) > 1) return undefined;
    return [((seen.x + 1) / 2) * width, ((1 - seen.y) / 2) * height];
  }

  /** While something is held: the view under the finger each time, the others as often as the machine keeps up. */
  hold(view: View | undefined): void {
    this.held = view;
    this.redraw();
  }

  private readonly sized = new Vector2();
  private held: View | undefined;
  private last = 0;
  private late = 0;

  private draw(): void {
    this.dirty = false;
    const now = performance.now();
    this.late = this.held && this.last && now - this.last > SLOW_MS ? (this.late + 1) % OTHERS_EACH : 0;
    this.last = this.held ? now : 0;
    const whole = this.around.getBoundingClientRect();
    if (!whole.width || !whole.height) return;
    const began = performance.now();
    const ratio = Math.min(devicePixelRatio, WIDEST_PX);
    if (this.renderer.getPixelRatio() !== ratio) this.renderer.setPixelRatio(ratio);
    const [width, height] = [whole.width, whole.height];
    if (this.sized.x !== width || this.sized.y !== height) this.renderer.setSize(width, height, false);
    this.sized.set(width, height);
    this.renderer.info.reset();
    this.renderer.setScissorTest(true);
    let drawn = 0;
    for (const { view, box } of this.panes) {
      const part = box.getBoundingClientRect();
      if (!part.width || !part.height || (this.late && view !== this.held)) continue;
      // The large view is there first; those beside it come with the next frame.
      if (!this.stats.frames && drawn) continue;
      drawn += 1;
      const left = part.left - whole.left;
      const low = whole.bottom - part.bottom;
      this.renderer.setViewport(left, low, part.width, part.height);
      this.renderer.setScissor(left, low, part.width, part.height);
      this.renderer.render(this.drawn, this.fit(view, part.width, part.height));
    }
    this.renderer.setScissorTest(false);
    this.stats.ms = performance.now() - began;
    this.stats.calls = this.renderer.info.render.calls;
    this.stats.triangles = this.renderer.info.render.triangles;
    if (!this.stats.frames) this.dirty = true;
    this.stats.frames += 1;
    for (const listener of this.listeners) listener();
  }

  /** Draw a number of frames at once; milliseconds each. */
  measure(frames: number): number {
    const context = this.renderer.getContext();
    const pixel = new Uint8Array(4);
    const began = performance.now();
    for (let n = 0; n < frames; n++) this.draw();
    // What was only handed to the driver is not drawn yet: reading a pixel waits for it.
    context.readPixels(0, 0, 1, 1, context.RGBA, context.UNSIGNED_BYTE, pixel);
    return (performance.now() - began) / frames;
  }

  picture(): Promise<Blob | null> {
    this.draw();
    return new Promise((done) => this.canvas.toBlob(done, "image/png"));
  }

  /** A small picture of the pieces standing elsewhere, as an address of data; the screen is as before after it. */
  small(poses: readonly Placed[], width: number, height: number): string {
    const before = new Map([...this.poses].map(([number]) => [number, this.poseOf(number)!]));
    const hidden: number[] = [];
    const by = new Map(poses.map((item) => [item.piece, item]));
    const extra: number[] = [];
    for (const [number, { id, piece }] of this.instances) {
      const there = by.get(piece);
      if (there) {
        const pose = poseOf(there);
        this.batch.setMatrixAt(id, new Matrix4().compose(pose.position, pose.turn, new Vector3(1, 1, 1)));
        by.delete(piece);
      } else {
        this.batch.setVisibleAt(id, false);
        hidden.push(id);
      }
      void number;
    }
    for (const there of by.values()) {
      const geometry = this.geometry.get(there.piece);
      if (geometry === undefined) continue;
      const id = this.batch.addInstance(geometry);
      const pose = poseOf(there);
      this.batch.setMatrixAt(id, new Matrix4().compose(pose.position, pose.turn, new Vector3(1, 1, 1)));
      this.batch.setColorAt(id, new Color(STONE[this.pieces.get(there.piece)!.look] ?? 0x888888));
      extra.push(id);
    }
    const gizmo = [this.ring.visible, this.arrow.visible, this.handles.visible];
    this.ring.visible = this.arrow.visible = this.handles.visible = false;
    this.renderer.setPixelRatio(1);
    this.renderer.setSize(width, height, false);
    this.sized.set(0, 0);
    this.renderer.setViewport(0, 0, width, height);
    this.batch.computeBoundingSphere();
    this.renderer.render(this.drawn, this.fit("turn", width, height));
    const found = this.canvas.toDataURL("image/png");
    [this.ring.visible, this.arrow.visible, this.handles.visible] = gizmo as [boolean, boolean, boolean];
    for (const id of hidden) this.batch.setVisibleAt(id, true);
    for (const id of extra) this.batch.deleteInstance(id);
    for (const [number, pose] of before) this.pose(number, pose);
    this.redraw();
    return found;
  }

  // ------------------------------------------------------------ fingers

  private aimed(view: View, box: HTMLElement, event: { clientX: number; clientY: number }): Camera {
    const part = box.getBoundingClientRect();
    const at = new Vector2(((event.clientX - part.left) / part.width) * 2 - 1, 1 - ((event.clientY - part.top) / part.height) * 2);
    const camera = this.fit(view, part.width, part.height);
    this.ray.setFromCamera(at, camera);
    return camera;
  }

  under(view: View, box: HTMLElement, event: { clientX: number; clientY: number }): Under {
    this.aimed(view, box, event);
    const found: Under = { view };
    if (this.handles.visible) {
      const hit = this.ray.intersectObject(this.handles)[0] ?? this.nearHandle(view, box, event);
      if (hit?.instanceId !== undefined) found.handle = hit.instanceId;
    } else if (this.ring.visible) {
      // From above the arrow stands on its head over the middle of the piece, where a finger means the piece.
      if (view !== "above" && this.ray.intersectObject(this.arrow).length) found.gizmo = "arrow";
      else if (this.ray.intersectObject(this.ring).length) found.gizmo = "ring";
    }
    const stone = this.ray.intersectObject(this.batch)[0];
    const bed = this.ray.intersectObject(this.bedMesh)[0];
    if (bed) found.bed = bed.point;
    if (stone?.batchId !== undefined && !(bed && view === "turn" && bed.distance < stone.distance - 0.02)) {
      for (const [number, { id }] of this.instances) if (id === stone.batchId) found.number = number;
    }
    return found;
  }

  /** A finger is wider than a handle. */
  private nearHandle(view: View, box: HTMLElement, event: { clientX: number; clientY: number }): { instanceId: number } | undefined {
    const part = box.getBoundingClientRect();
    let best: { instanceId: number; away: number } | undefined;
    for (let n = 0; n < HANDLES * HANDLES; n++) {
      const spot = this.spot(this.handleAt(n), view, box);
      const away = spot ? Math.hypot(spot[0] - (event.clientX - part.left), spot[1] - (event.clientY - part.top)) : Infinity;
      if (away < 24 && away < (best?.away ?? Infinity)) best = { instanceId: n, away };
    }
    return best;
  }

  /** Where a finger meets a level plane, or in a view from the side the upright plane through a point. */
  meets(view: View, box: HTMLElement, event: { clientX: number; clientY: number }, through: Vector3): Vector3 | undefined {
    this.aimed(view, box, event);
    const normal = new Vector3(0, 0, 1);
    if (view === "front" || view === "rear") normal.set(0, 1, 0);
    if (view === "left" || view === "right") normal.set(1, 0, 0);
    return this.ray.ray.intersectPlane(new Plane().setFromNormalAndCoplanarPoint(normal, through), new Vector3()) ?? undefined;
  }

  /** Metres that a pixel upwards is worth near a point. */
  perPixel(view: View, box: HTMLElement, at: Vector3): number {
    const one = this.spot(at, view, box);
    const other = this.spot(at.clone().add(new Vector3(0, 0, 0.01)), view, box);
    const pixels = one && other ? Math.abs(one[1] - other[1]) : 0;
    return pixels > 0.2 ? 0.01 / pixels : this.size.z / box.clientHeight;
  }
}

function atobLength(text: string): number {
  return (text.length / 4) * 3 - (text.endsWith("==") ? 2 : text.endsWith("=") ? 1 : 0);
}

/** Panes as their edges, the bottom, and the water line as a sheet. */
function glassOf(glass: Glass): Object3D[] {
  const outline = new Shape(glass.corners_m.map(([x, y]) => new Vector2(x, y)));
  const body = new ExtrudeGeometry(outline, { depth: glass.height_m, bevelEnabled: false });
  const edges = new LineSegments(new EdgesGeometry(body, 20), new LineBasicMaterial({ color: 0x2c6e78 }));
  body.dispose();
  const water = new Mesh(new ShapeGeometry(outline), new MeshBasicMaterial({ color: 0x4fa3b5, transparent: true, opacity: 0.14, side: DoubleSide, depthWrite: false }));
  water.position.z = glass.water_line_m;
  const bottom = new Mesh(new ShapeGeometry(outline), new MeshBasicMaterial({ color: 0xc7d3d5, side: DoubleSide }));
  bottom.position.z = -0.002;
  return [edges, water, bottom];
}
