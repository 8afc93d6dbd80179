// The layout editor: pieces and bed under fingers, mouse and keys; the office holds the truth.
import { Quaternion, Vector3 } from "three";
import { Calls, Refused, type Cleaning, type Edit, type Figures, type Piece, type Placed, type SavedItem, type Scene, type Side, type State } from "./calls";
import { Desk } from "./desk";
import { followWork } from "./work";
import type { Board, Pose, View } from "./board";
import { Drawings } from "./drawings";
import { contextOf, Stage, type Under } from "./stage";

type Mode = "move" | "turn" | "raise" | "bed";
const COARSE_M = 0.01;
const FINE_M = 0.001;
const COARSE_DEG = 5;
const FINE_DEG = 1;
/** After a key was left alone for so long, what it did is sent. */
const RESTS_MS = 350;
/** What is farther from the corner of the tank was mistyped. */
const FAR_M = 20;
const UP = new Vector3(0, 0, 1);

const root = document.getElementById("editor");
if (root) void begin(root);

function by<T extends HTMLElement>(id: string): T {
  return document.getElementById(id) as T;
}

function fill(sentence: string, values: Record<string, string | number>): string {
  return sentence.replace(/{(\w+)(:[^}]*)?}/g, (_, name: string) => String(values[name] ?? ""));
}

async function begin(root: HTMLElement): Promise<void> {
  const words = JSON.parse(root.dataset["words"]!) as Record<string, string>;
  const lacking = (sentence: string) => {
    root.hidden = true;
    by("plain").hidden = false;
    by("no-picture").hidden = false;
    by("no-picture").textContent = sentence;
  };
  const calls = new Calls(root.dataset["job"]!, root.dataset["units"]!, words["offline"]!);
  try {
    const asked = calls.scene();
    // While the office answers: the graphics card takes as long.
    const context = contextOf(by<HTMLCanvasElement>("canvas"));
    const scene = await asked;
    root.hidden = false;
    by("plain").hidden = true;
    if (!context) {
      by("no-picture").hidden = false;
      by("no-picture").textContent = words["no_webgl"]!;
    }
    new Editor(root, words, calls, scene, context);
  } catch (error) {
    lacking(error instanceof Refused ? error.message : words["failed"]!);
    if (!(error instanceof Refused)) throw error;
  }
}

class Editor {
  private readonly stage: Board;
  /** The same where it can be touched; undefined where there are only drawings. */
  private readonly touched: Stage | undefined;
  private readonly desk: Desk;
  private readonly pieces = new Map<string, Piece>();
  private readonly perM: number;
  private readonly unit: string;
  private readonly mayChange: boolean;
  private mode: Mode = "move";
  private chosen: number | undefined;
  private cleaning: Cleaning | undefined;
  private resting: ReturnType<typeof setTimeout> | undefined;
  private counting: ReturnType<typeof setTimeout> | undefined;
  /** Pieces that keys have moved and the office has not heard of. */
  private moved = new Set<number>();
  private readonly labels = new Map<string, HTMLElement>();

  constructor(
    private readonly root: HTMLElement,
    private readonly words: Record<string, string>,
    private readonly calls: Calls,
    scene: Scene,
    context: WebGL2RenderingContext | undefined,
  ) {
    this.perM = Number(root.dataset["perM"]);
    this.unit = root.dataset["unit"]!;
    this.mayChange = root.dataset["may"] === "yes";
    for (const piece of scene.pieces) this.pieces.set(piece.key, piece);
    this.desk = new Desk(calls, scene.state, { told: (state) => this.told(state), refused: (sentence) => this.refused(sentence) });
    const canvas = by<HTMLCanvasElement>("canvas");
    if (context) {
      this.stage = this.touched = new Stage(canvas, context, by("stage"), scene);
      this.touched.after(() => this.label());
      canvas.addEventListener("webglcontextlost", () => this.refused(this.words["lost_picture"]!));
    } else {
      canvas.hidden = true;
      by("stage").classList.add("drawn");
      for (const element of root.querySelectorAll<HTMLElement>("[data-touch]")) element.hidden = true;
      this.stage = new Drawings(scene.pieces, root.dataset["job"]!, (view) => this.say("drawn", { view: this.words[`view_${view}`]! }));
    }
    this.layPanes(scene.glass.public_sides);
    this.wire();
    this.told(scene.state);
    this.foldFirst(scene.state.placements.length > 0);
    void this.showVersions();
    performance.mark("first-picture");
    root.dataset["ready"] = "yes";
    (globalThis as { layoutEditor?: unknown }).layoutEditor = this.stage;
  }

  /** Open is what is wanted next: pieces on hand while the tank is empty, else the piece that is chosen. */
  private foldFirst(standing: boolean): void {
    for (const [id, open] of [["f-hand", !standing], ["f-chosen", standing]] as const) {
      const fold = document.getElementById(id) as HTMLDetailsElement | null;
      if (fold) fold.open = open;
    }
  }

  private say(name: string, values: Record<string, string | number> = {}): string {
    return fill(this.words[name]!, values);
  }

  private long(metres: number): string {
    return (metres * this.perM).toFixed(1);
  }

  // ------------------------------------------------------------ views

  /** The large view and the three beside it: all round, two public faces, from above. */
  private layPanes(sides: readonly Side[]): void {
    const order: Side[] = ["front", "rear", "left", "right"];
    const faces = [...sides, ...order.filter((side) => !sides.includes(side))].slice(0, 2);
    const views: View[] = this.touched ? ["turn", ...faces, "above"] : ["above", ...faces, "long", "cross"];
    const strip = document.createElement("div");
    strip.className = "strip";
    views.forEach((view, n) => {
      const box = document.createElement("div");
      box.className = "pane";
      const button = document.createElement("button");
      button.type = "button";
      button.className = "quiet";
      button.addEventListener("click", () => this.swapViews(n));
      box.append(button);
      (n ? strip : by("panes")).append(box);
      this.stage.panes.push({ view, box });
      if (this.touched) this.fingers(this.touched, n, box);
    });
    by("panes").append(strip);
    this.nameViews();
  }

  private nameViews(): void {
    for (const { view, box } of this.stage.panes) box.querySelector("button")!.textContent = this.words[`view_${view}`]!;
    this.stage.redraw();
  }

  private swapViews(n: number): void {
    if (!n) return;
    const [large, small] = [this.stage.panes[0]!, this.stage.panes[n]!];
    [large.view, small.view] = [small.view, large.view];
    this.nameViews();
    requestAnimationFrame(() => this.label());
  }

  /** Numbers of the pieces over the large view. */
  private label(): void {
    const { view, box } = this.stage.panes[0]!;
    const seen = new Set<string>();
    for (const number of this.stage.numbers()) {
      const key = String(number);
      let label = this.labels.get(key);
      if (!label) {
        label = document.createElement("span");
        label.className = "number";
        label.textContent = key;
        label.setAttribute("aria-hidden", "true");
        this.labels.set(key, label);
        box.append(label);
      }
      const spot = this.stage.spot(this.stage.centre(number), view, box);
      label.hidden = !spot;
      label.classList.toggle("chosen", number === this.chosen);
      // Through the object model, which the policy of the page allows; an attribute in the text it would not.
      if (spot) {
        label.style.left = `${spot[0]}px`;
        label.style.top = `${spot[1]}px`;
      }
      seen.add(key);
    }
    for (const [key, label] of this.labels) {
      if (!seen.has(key)) {
        label.remove();
        this.labels.delete(key);
      }
    }
  }

  // ------------------------------------------------------------ what the office says

  private told(state: State): void {
    this.stage.show(state.placements, state.bed);
    if (!this.desk.placed(this.chosen)) this.chosen = undefined;
    this.stage.choose(this.chosen);
    for (const [id, can] of [["undo", state.can_undo], ["redo", state.can_redo]] as const) {
      const button = document.getElementById(id) as HTMLButtonElement | null;
      if (button) button.disabled = !can;
    }
    this.lists();
    this.numbers();
    this.countSoon();
  }

  private refused(sentence: string): void {
    const notice = by("refused");
    notice.hidden = !sentence;
    notice.textContent = sentence;
  }

  private async send(...edits: Edit[]): Promise<boolean> {
    this.refused("");
    const taken = await this.desk.edit(...edits);
    if (taken) this.speak();
    return taken;
  }

  private countSoon(): void {
    clearTimeout(this.counting);
    this.counting = setTimeout(() => void this.count(), 120);
  }

  private async count(): Promise<void> {
    const revision = this.desk.state.revision;
    try {
      this.showFigures(await this.calls.figures());
      const found = await this.calls.cleaning();
      if (revision === this.desk.state.revision) {
        this.cleaning = found;
        by("cleaning").textContent = found.told;
        this.showRemarks("hand", found.remarks);
        this.stage.showUnclean(by<HTMLInputElement>("show-cleaning").checked ? found : undefined);
      }
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      this.refused(error.message);
    }
  }

  private remarks: Record<string, readonly string[]> = {};

  private showRemarks(of: string, remarks: readonly string[]): void {
    this.remarks[of] = remarks;
    by("remarks").replaceChildren(
      ...Object.values(this.remarks)
        .flat()
        .map((text) => textOf("li", text)),
    );
  }

  private showFigures(figures: Figures): void {
    for (const line of figures.lines) {
      const cell = document.querySelector(`[data-figure="${line.id}"]`);
      if (cell) cell.textContent = line.value;
    }
    this.showRemarks("place", figures.remarks);
  }

  // ------------------------------------------------------------ lists and numbers

  private nameOf(item: Placed): string {
    return this.pieces.get(item.piece)?.name ?? "";
  }

  private lists(): void {
    const placed = this.desk.state.placements;
    by("list").replaceChildren(
      ...placed.map((item) => {
        // Many bear one name: the number is on the stone, the mass is felt in the hand.
        const short = `${item.number} · ${this.pieces.get(item.piece)?.mass_kg.toFixed(1)} kg`;
        const button = press(short, () => this.choose(item.number), `${short}, ${this.nameOf(item)}`);
        button.setAttribute("aria-pressed", String(item.number === this.chosen));
        return button;
      }),
    );
    if (!this.mayChange) return;
    const standing = new Set(placed.map((item) => item.piece));
    const hand = [...this.pieces.values()].filter((piece) => !standing.has(piece.key));
    by("hand").replaceChildren(
      ...hand.map((piece) => {
        const button = press(`${piece.name} · ${piece.mass_kg.toFixed(1)} kg`, () => void this.place(piece, button), this.words["place"]);
        return button;
      }),
    );
    if (!hand.length) by("hand").append(textOf("p", this.words["hand_none"]!));
    by("c-swap").replaceChildren(...hand.map((piece) => new Option(piece.name, piece.key)));
  }

  private async place(piece: Piece, button: HTMLButtonElement): Promise<void> {
    // Touched twice it is placed once; the list that comes with the answer has it anew.
    button.disabled = true;
    const before = new Set(this.desk.state.placements.map((item) => item.number));
    const middle = this.freeSpot(piece);
    if (await this.send({ act: "place", piece: piece.key, x_m: middle[0], y_m: middle[1], burial_share: 0.12 })) {
      const made = this.desk.state.placements.find((item) => !before.has(item.number));
      this.choose(made?.number);
    }
  }

  /** Where a new piece is set down: the spot of a coarse grid that is farthest from what stands there, nearest the middle. */
  private freeSpot(piece: Piece): [number, number] {
    const { x, y } = { x: this.desk.bed.x_m, y: this.desk.bed.y_m };
    const [x0, x1, y0, y1] = [x[0]!, x[x.length - 1]!, y[0]!, y[y.length - 1]!];
    const reach = 0.55 * Math.hypot(piece.size_m[0]!, piece.size_m[1]!);
    let best: [number, number] = [(x0 + x1) / 2, (y0 + y1) / 2];
    let most = -Infinity;
    for (let i = 1; i < 12; i++) {
      for (let j = 1; j < 8; j++) {
        const at: [number, number] = [x0 + ((x1 - x0) * i) / 12, y0 + ((y1 - y0) * j) / 8];
        const wall = Math.min(at[0] - x0, x1 - at[0], at[1] - y0, y1 - at[1]) - reach;
        const free = Math.min(
          0.3,
          ...this.desk.state.placements.map((item) => {
            const other = this.pieces.get(item.piece)!.size_m;
            return Math.hypot(item.centre_m[0]! - at[0], item.centre_m[1]! - at[1]) - reach - 0.5 * Math.hypot(other[0]!, other[1]!);
          }),
        );
        const good = Math.min(wall, free, 0.02) + 0.01 * Math.min(free, 0.2) - 0.001 * Math.hypot(at[0] - (x0 + x1) / 2, at[1] - (y0 + y1) / 2);
        if (good > most) [most, best] = [good, at];
      }
    }
    return best;
  }

  private choose(number: number | undefined): void {
    this.flush();
    this.chosen = number;
    this.stage.choose(number);
    if (number !== undefined) by<HTMLDetailsElement>("f-chosen").open = true;
    this.lists();
    this.numbers();
    this.speak();
  }

  private numbers(): void {
    const item = this.desk.placed(this.chosen);
    by("chosen").hidden = !item;
    by("none-chosen").hidden = !!item;
    if (!item) return;
    const lock = item.locked ? ` · ${this.words["locked"]}` : "";
    by("chosen-name").firstElementChild!.textContent = this.say("number", { number: item.number, name: this.nameOf(item) }) + lock;
    if (!this.mayChange) return;
    const put = (name: string, value: string) => (by<HTMLInputElement>(`c-${name}`).value = value);
    put("x", this.long(item.centre_m[0]!));
    put("y", this.long(item.centre_m[1]!));
    put("low", this.long(item.low_m));
    (["turn", "lean", "tip"] as const).forEach((name, n) => put(name, item.angles_deg[n]!.toFixed(0)));
    this.root.querySelector('[data-do="lock"]')!.textContent = this.words[item.locked ? "unlock" : "lock"]!;
  }

  /** Where the chosen piece stands, for whoever hears the page. */
  private speak(): void {
    const item = this.desk.placed(this.chosen);
    by("spoken").textContent = item
      ? this.say("spoken", {
          number: item.number,
          name: this.nameOf(item),
          x: `${this.long(item.centre_m[0]!)} ${this.unit}`,
          y: `${this.long(item.centre_m[1]!)} ${this.unit}`,
          low: `${this.long(item.low_m)} ${this.unit}`,
          turn: item.angles_deg[0]!.toFixed(0),
        })
      : this.words["none_chosen"]!;
  }

  /** The number in a field, undefined where it is empty and may be; else it is told what was expected. */
  private read(id: string, least: number, most: number, optional = false): number | undefined {
    const field = by<HTMLInputElement>(id);
    const text = field.value.trim();
    const value = Number(text.replace(",", "."));
    const said = { field: field.closest("label")!.querySelector("span")!.textContent!, typed: text || "–", least: round(least), most: round(most) };
    const wrong = !text ? !optional : Number.isNaN(value) ? true : value < least || value > most;
    field.setAttribute("aria-invalid", String(wrong));
    if (!wrong) return text ? value : undefined;
    field.focus({ preventScroll: true });
    throw new Refused(0, this.say(text && !Number.isNaN(value) ? "between" : "asked_number", said));
  }

  private metres(id: string, least: number, most: number): number {
    return this.read(id, least * this.perM, most * this.perM)! / this.perM;
  }

  private async putTyped(): Promise<void> {
    const item = this.desk.placed(this.chosen);
    if (!item) return;
    this.flush();
    const [x, y, low] = (["x", "y", "low"] as const).map((name) => this.metres(`c-${name}`, -FAR_M, FAR_M)) as [number, number, number];
    const radians = (["turn", "lean", "tip"] as const).map((name) => (this.read(`c-${name}`, -360, 360)! * Math.PI) / 180) as [number, number, number];
    const turn = ofAngles(...radians);
    const piece = this.pieces.get(item.piece)!;
    const same = (["turn", "lean", "tip"] as const).every((_, n) => Math.abs((radians[n]! * 180) / Math.PI - Math.round(item.angles_deg[n]!)) < 1e-6);
    const kept = same ? new Quaternion(item.turn[1], item.turn[2], item.turn[3], item.turn[0]) : turn;
    const centre = new Vector3(...(piece.centre_m as [number, number, number])).applyQuaternion(kept);
    const lowest = same ? item.low_m - item.position_m[2]! : this.stage.lowest(item.piece, kept);
    const position = new Vector3(x - centre.x, y - centre.y, low - lowest);
    const fields = ["x", "y", "low", "turn", "lean", "tip"].map((name) => by<HTMLInputElement>(`c-${name}`));
    const typed = fields.map((field) => field.value);
    // Refused, the piece is back where it was; what was typed stays to be set right.
    if (!(await this.send(put(item.number, { position, turn: kept })))) fields.forEach((field, n) => (field.value = typed[n]!));
  }

  private shapeTyped(): void {
    const [x, y] = [this.metres("b-x", -FAR_M, FAR_M), this.metres("b-y", -FAR_M, FAR_M)];
    const [x2, y2] = (["b-x2", "b-y2"] as const).map((id) => this.read(id, -FAR_M * this.perM, FAR_M * this.perM, true));
    if ((x2 === undefined) !== (y2 === undefined)) throw new Refused(0, this.words["both_points"]!);
    const line: [number, number][] = [[x, y]];
    if (x2 !== undefined && y2 !== undefined) line.push([x2 / this.perM, y2 / this.perM]);
    void this.shape(by<HTMLSelectElement>("b-stroke").value, line, this.metres("b-radius", 0.005, 5), this.metres("b-height", 0, 2), this.metres("b-edge", 0, 2));
  }

  // ------------------------------------------------------------ fingers

  private fingers(stage: Stage, n: number, box: HTMLElement): void {
    const down = new Map<number, PointerEvent>();
    let drag: Drag | undefined;
    let apart = 0;
    box.addEventListener("pointerdown", (event) => {
      if ((event.target as HTMLElement).closest("button")) return;
      event.preventDefault();
      by("stage").focus({ preventScroll: true });
      box.setPointerCapture(event.pointerId);
      down.set(event.pointerId, event);
      if (down.size === 2) {
        drag?.leave();
        drag = undefined;
        apart = spread(down);
        return;
      }
      const { view } = stage.panes[n]!;
      const under = stage.under(view, box, event);
      drag = this.orTold(() => this.grasp(view, box, event, under));
      stage.hold(view);
    });
    box.addEventListener("pointermove", (event) => {
      if (!down.has(event.pointerId)) return;
      const before = down.get(event.pointerId)!;
      down.set(event.pointerId, event);
      if (down.size === 2) {
        const now = spread(down);
        if (apart && now) stage.zoom(apart / now);
        apart = now;
      } else if (drag) {
        drag.go(event);
      } else if (this.stage.panes[n]!.view === "turn") {
        stage.spin(event.clientX - before.clientX, event.clientY - before.clientY);
      }
    });
    const up = (event: PointerEvent, kept: boolean) => {
      if (!down.delete(event.pointerId)) return;
      if (kept) drag?.end();
      else drag?.leave();
      drag = undefined;
      apart = 0;
      if (!down.size) stage.hold(undefined);
    };
    box.addEventListener("pointerup", (event) => up(event, true));
    box.addEventListener("pointercancel", (event) => up(event, false));
    box.addEventListener("wheel", (event) => {
      event.preventDefault();
      stage.zoom(event.deltaY > 0 ? 1.08 : 1 / 1.08);
    }, { passive: false });
  }

  /** What an act comes to; where a field beside says no number, its sentence instead. */
  private orTold<T>(act: () => T): T | undefined {
    try {
      return act();
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      this.refused(error.message);
      return undefined;
    }
  }

  private grasp(view: View, box: HTMLElement, event: PointerEvent, under: Under): Drag | undefined {
    if (this.mode === "bed" && this.mayChange) {
      if (under.handle !== undefined) return this.pullBed(view, box, event, under.handle);
      if (under.bed) return this.strokeBed(view, box, under.bed);
      return undefined;
    }
    const number = under.gizmo ? this.chosen : under.number;
    if (number === undefined) return undefined;
    if (number !== this.chosen) this.choose(number);
    if (!this.mayChange) return undefined;
    const mode = under.gizmo === "ring" ? "turn" : under.gizmo === "arrow" ? "raise" : this.mode;
    return mode === "turn" ? this.turnPiece(number, view, event) : mode === "raise" ? this.raisePiece(number, view, box, event) : this.movePiece(number, view, box, event);
  }

  /** Something under a finger that is shown at once, and told the office when the finger leaves. */
  private drag(number: number, go: (event: PointerEvent, from: Pose) => Pose | undefined, rests: boolean): Drag {
    const from = this.stage.poseOf(number)!;
    let any = false;
    return {
      go: (event) => {
        const pose = go(event, { position: from.position.clone(), turn: from.turn.clone() });
        if (!pose) return;
        any = true;
        this.stage.pose(number, pose);
      },
      end: () => any && void this.settleDown(number, rests),
      leave: () => this.stage.pose(number, from),
    };
  }

  private async settleDown(number: number, rests: boolean): Promise<void> {
    const edits: Edit[] = [put(number, this.stage.poseOf(number)!)];
    if (rests && by<HTMLInputElement>("stand").checked) edits.push({ act: "lower", number, burial_share: 0.12 });
    await this.send(...edits);
  }

  private movePiece(number: number, view: View, box: HTMLElement, event: PointerEvent): Drag {
    const centre = this.stage.centre(number);
    const start = this.touched!.meets(view, box, event, centre);
    return this.drag(
      number,
      (now, from) => {
        const at = this.touched!.meets(view, box, now, centre);
        if (!start || !at || at.distanceTo(centre) > 20) return undefined;
        const step = at.sub(start);
        // Seen from the side a finger says nothing of the depth, and the height is the bed's.
        if (view !== "turn" && view !== "above" && by<HTMLInputElement>("stand").checked) step.z = 0;
        return { position: from.position.add(step), turn: from.turn };
      },
      true,
    );
  }

  private raisePiece(number: number, view: View, box: HTMLElement, event: PointerEvent): Drag {
    const each = this.touched!.perPixel(view === "above" ? "turn" : view, box, this.stage.centre(number));
    return this.drag(number, (now, from) => ({ position: from.position.add(new Vector3(0, 0, (event.clientY - now.clientY) * each)), turn: from.turn }), false);
  }

  private turnPiece(number: number, view: View, event: PointerEvent): Drag {
    const sides: Partial<Record<View, Vector3>> = { front: new Vector3(0, -1, 0), rear: new Vector3(0, 1, 0), left: new Vector3(-1, 0, 0), right: new Vector3(1, 0, 0) };
    const axis = sides[view] ?? UP;
    const from = this.stage.poseOf(number)!;
    const centre = this.stage.centre(number);
    return this.drag(
      number,
      (now) => {
        const further = new Quaternion().setFromAxisAngle(axis, ((now.clientX - event.clientX) * 0.6 * Math.PI) / 180);
        const position = from.position.clone().sub(centre).applyQuaternion(further).add(centre);
        return { position, turn: further.multiply(from.turn) };
      },
      true,
    );
  }

  private pullBed(view: View, box: HTMLElement, event: PointerEvent, handle: number): Drag {
    const at = this.touched!.handle(handle);
    const each = this.touched!.perPixel(view === "above" ? "turn" : view, box, at);
    const radius = this.touched!.handleReach();
    let height = 0;
    return {
      go: (now) => {
        const wanted = (event.clientY - now.clientY) * each;
        this.touched!.swell(at, radius, wanted - height);
        height = wanted;
      },
      end: () => Math.abs(height) > 0.0005 && void this.shape(height > 0 ? "raise" : "lower", [[at.x, at.y]], radius, Math.abs(height)),
      leave: () => this.touched!.swell(at, radius, -height),
    };
  }

  private strokeBed(view: View, box: HTMLElement, first: Vector3): Drag {
    const stroke = by<HTMLSelectElement>("b-stroke").value;
    const [radius, height, edge] = [this.metres("b-radius", 0.005, 5), this.metres("b-height", 0, 2), this.metres("b-edge", 0, 2)];
    const line: [number, number][] = [[first.x, first.y]];
    const sign = stroke === "lower" ? -1 : stroke === "smooth" || stroke === "gable" ? 0 : 1;
    if (sign) this.touched!.swell(first, radius, sign * height);
    return {
      go: (event) => {
        const at = this.touched!.under(view, box, event).bed;
        const last = line[line.length - 1]!;
        if (!at || line.length > 400 || Math.hypot(at.x - last[0], at.y - last[1]) < radius / 3) return;
        line.push([at.x, at.y]);
        if (sign) this.touched!.swell(at, radius, (sign * height) / 2);
      },
      end: () => void this.shape(stroke, stroke === "mound" ? [line[line.length - 1]!] : line, radius, height, edge),
      leave: () => this.told({ ...this.desk.state, bed: this.desk.bed }),
    };
  }

  private shape(stroke: string, line: [number, number][], radius: number, height: number, edge = 0): Promise<boolean> {
    return this.send({ act: "shape", stroke: stroke as "raise", line_m: line, radius_m: radius, height_m: height, edge_m: edge });
  }

  // ------------------------------------------------------------ keys and buttons

  private nudge(key: string, fine: boolean): void {
    const number = this.chosen;
    if (number === undefined || !this.mayChange) return;
    const step = fine ? FINE_M : COARSE_M;
    const angle = ((fine ? FINE_DEG : COARSE_DEG) * Math.PI) / 180;
    const { view } = this.stage.panes[0]!;
    // Left is what the eye calls left: seen from the rear it is the other way in the tank.
    const [over, away]: [Vector3, Vector3] = {
      rear: [new Vector3(-1, 0, 0), new Vector3(0, -1, 0)],
      left: [new Vector3(0, -1, 0), new Vector3(1, 0, 0)],
      right: [new Vector3(0, 1, 0), new Vector3(-1, 0, 0)],
    }[view as string] as [Vector3, Vector3] ?? [new Vector3(1, 0, 0), new Vector3(0, 1, 0)];
    const shifts: Record<string, Vector3> = {
      left: over.clone().multiplyScalar(-step),
      right: over.clone().multiplyScalar(step),
      rear: away.clone().multiplyScalar(step),
      front: away.clone().multiplyScalar(-step),
      up: UP.clone().multiplyScalar(step),
      down: UP.clone().multiplyScalar(-step),
    };
    const turns: Record<string, [Vector3, number]> = {
      "turn+": [UP, angle],
      "turn-": [UP, -angle],
      "tip+": [new Vector3(1, 0, 0), angle],
      "tip-": [new Vector3(1, 0, 0), -angle],
      "lean+": [new Vector3(0, 1, 0), angle],
      "lean-": [new Vector3(0, 1, 0), -angle],
    };
    const shift = shifts[key];
    const turn = turns[key];
    if (shift) {
      const pose = this.stage.poseOf(number)!;
      this.stage.pose(number, { position: pose.position.add(shift), turn: pose.turn });
    } else if (turn) {
      this.stage.pose(number, this.stage.turned(number, new Quaternion().setFromAxisAngle(...turn)));
    }
    if (key !== "up" && key !== "down") this.standAfter = true;
    this.moved.add(number);
    clearTimeout(this.resting);
    this.resting = setTimeout(() => this.flush(), RESTS_MS);
  }

  private standAfter = false;
  private asked = 0;

  /** Tell the office where keys have moved pieces to. */
  private flush(): void {
    clearTimeout(this.resting);
    const rests = this.standAfter;
    this.standAfter = false;
    for (const number of this.moved) void this.settleDown(number, rests);
    this.moved.clear();
  }

  private key(event: KeyboardEvent): void {
    if (event.altKey || (event.target as HTMLElement).matches("input, select, textarea")) return;
    const name = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    if (event.ctrlKey || event.metaKey) {
      if (name === "z" || name === "y") {
        event.preventDefault();
        this.step(name === "y" || event.shiftKey ? "redo" : "undo");
      }
      return;
    }
    const nudges: Record<string, string> = {
      ...{ ArrowLeft: "left", ArrowRight: "right", ArrowUp: "rear", ArrowDown: "front", PageUp: "up", PageDown: "down" },
      ...{ q: "turn+", e: "turn-", r: "tip+", f: "tip-", t: "lean-", g: "lean+" },
    };
    if (nudges[name]) {
      event.preventDefault();
      this.nudge(nudges[name]!, event.shiftKey);
    } else if (name === "l" || name === "Delete") {
      event.preventDefault();
      this.do(name === "l" ? "lower" : "take_out");
    } else if (name === "[" || name === "]") {
      event.preventDefault();
      const all = this.stage.numbers();
      const at = all.indexOf(this.chosen ?? -1);
      if (all.length) this.choose(all[(at + (name === "]" ? 1 : all.length - 1) + (at < 0 && name === "[" ? 1 : 0)) % all.length]);
    } else if (name === "Escape") {
      this.choose(undefined);
    }
  }

  private step(act: "undo" | "redo"): void {
    if (!this.mayChange) return;
    this.flush();
    this.refused("");
    void this.desk[act]().then(() => this.speak());
  }

  private do(act: string): void {
    if (!this.mayChange) return;
    this.flush();
    const number = this.chosen;
    if (act === "rest") void this.send({ act });
    else if (act === "settle" || act === "propose") void this.longWork(act);
    else if (number === undefined) return;
    else if (act === "lower") void this.send({ act, number, burial_share: 0.12 });
    else if (act === "take_out") void this.send({ act, number });
    else if (act === "lock") void this.send({ act: this.desk.placed(number)!.locked ? "unlock" : "lock", number });
    else if (act === "swap") {
      const piece = by<HTMLSelectElement>("c-swap").value;
      if (piece) void this.send({ act, number, piece, burial_share: 0.12 });
    }
  }

  private async longWork(act: "settle" | "propose"): Promise<void> {
    this.refused("");
    await followWork(act, {
      calls: this.calls,
      desk: this.desk,
      stage: this.stage,
      say: (name, values) => this.say(name, values),
      refused: (sentence) => this.refused(sentence),
      intent: by<HTMLSelectElement>("intent").value,
      // Asked again for the same, other proposals come.
      seed: ++this.asked,
    });
  }

  private wire(): void {
    this.root.addEventListener("click", (event) => {
      const button = (event.target as HTMLElement).closest<HTMLButtonElement>("button[data-mode], button[data-do], button[data-nudge]");
      if (!button) return;
      const { mode, do: act, nudge } = button.dataset;
      if (mode) {
        this.mode = mode as Mode;
        for (const other of this.root.querySelectorAll("[data-mode]")) other.setAttribute("aria-pressed", String(other === button));
        this.stage.shaping(mode === "bed");
      } else if (act) this.do(act);
      else if (nudge) this.nudge(nudge, event.shiftKey);
    });
    by("stage").addEventListener("keydown", (event) => this.key(event));
    const form = (id: string, act: () => void | Promise<void>) =>
      document.getElementById(id)?.addEventListener("submit", async (event) => {
        event.preventDefault();
        this.refused("");
        try {
          await act();
        } catch (error) {
          if (!(error instanceof Refused)) throw error;
          this.refused(error.message);
        }
      });
    form("chosen", async () => (this.mayChange ? this.putTyped() : undefined));
    form("bed", () => this.shapeTyped());
    form("saving", () => {
      this.flush();
      void this.desk.save(by<HTMLInputElement>("s-title").value).then(async (taken) => {
        if (!taken) return;
        by("spoken").textContent = this.say("saved", { n: this.desk.state.based_on });
        by<HTMLInputElement>("s-title").value = "";
        await this.showVersions();
      });
    });
    document.getElementById("undo")?.addEventListener("click", () => this.step("undo"));
    document.getElementById("redo")?.addEventListener("click", () => this.step("redo"));
    by("picture").addEventListener("click", () => void this.picture());
    by("show-cleaning").addEventListener("change", (event) => this.stage.showUnclean((event.target as HTMLInputElement).checked ? this.cleaning : undefined));
    addEventListener("pagehide", () => this.flush());
  }

  private async picture(): Promise<void> {
    const found = await this.stage.picture();
    if (!found) return;
    const link = document.createElement("a");
    link.href = URL.createObjectURL(found);
    link.download = found.type.includes("svg") ? "layout.svg" : "layout.png";
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
  }

  private async showVersions(): Promise<void> {
    const found = await this.calls.versions().catch((): SavedItem[] => []);
    const lines = found.map((saved) => {
      const line = document.createElement("li");
      const name = textOf("strong", this.say("version", { n: saved.number }) + (saved.title ? ` · ${saved.title}` : ""));
      const actions = document.createElement("div");
      actions.className = "inline";
      const file = textOf("a", this.words["scene"]!) as HTMLAnchorElement;
      file.className = "button quiet";
      file.href = `/jobs/${this.root.dataset["job"]}/layout/versions/${saved.number}/scene.glb`;
      file.download = "";
      actions.append(file);
      if (this.mayChange) actions.append(press(this.words["back"]!, () => void this.desk.back(saved.number), `${this.words["back"]}: ${name.textContent}`));
      const when = textOf("span", ` ${saved.saved_at}`);
      when.className = "soft";
      line.append(name, when, actions);
      return line;
    });
    by("versions").replaceChildren(...(lines.length ? lines : [textOf("li", this.words["no_versions"]!)]));
  }
}

interface Drag {
  go(event: PointerEvent): void;
  end(): void;
  leave(): void;
}

function put(number: number, pose: Pose): Edit {
  const { position, turn } = pose;
  return { act: "put", number, position_m: [position.x, position.y, position.z], turn: [turn.w, turn.x, turn.y, turn.z] };
}

/** As `turn_of` of the office: first tipped about x, then leaned about y, then turned about z. */
function ofAngles(turn: number, lean: number, tip: number): Quaternion {
  const about = (x: number, y: number, z: number, angle: number) => new Quaternion().setFromAxisAngle(new Vector3(x, y, z), angle);
  return about(0, 0, 1, turn).multiply(about(0, 1, 0, lean)).multiply(about(1, 0, 0, tip));
}

function round(value: number): string {
  return String(Math.round(value * 10) / 10);
}

function spread(down: Map<number, PointerEvent>): number {
  const [one, other] = [...down.values()];
  return one && other ? Math.hypot(one.clientX - other.clientX, one.clientY - other.clientY) : 0;
}

function textOf(tag: string, text: string): HTMLElement {
  const made = document.createElement(tag);
  made.textContent = text;
  return made;
}

function press(text: string, act: () => void, label?: string): HTMLButtonElement {
  const button = document.createElement("button");
  button.type = "button";
  button.className = "quiet";
  button.textContent = text;
  if (label && label !== text) button.setAttribute("aria-label", label.includes(text) ? label : `${label}: ${text}`);
  button.addEventListener("click", act);
  return button;
}
