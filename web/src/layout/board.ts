// Where pieces stand, whatever shows them: a picture in three dimensions, or drawings.
import { Quaternion, Vector3 } from "three";
import { floats, type BedItem, type Cleaning, type Piece, type Placed, type Side } from "./calls";

export type View = "turn" | Side | "above" | "long" | "cross";
export interface Pose {
  position: Vector3;
  turn: Quaternion;
}

export abstract class Board {
  protected readonly pieces = new Map<string, Piece>();
  protected readonly poses = new Map<number, Pose>();
  /** Boxes of the views on the page, by what they show. */
  panes: { view: View; box: HTMLElement }[] = [];

  constructor(pieces: readonly Piece[]) {
    for (const piece of pieces) this.pieces.set(piece.key, piece);
  }

  protected abstract pieceOf(number: number): string;
  /** Show what the office says. */
  abstract show(placements: readonly Placed[], bed: BedItem | null | undefined): void;
  /** Put a piece so on screen only. */
  abstract pose(number: number, pose: Pose): void;
  abstract choose(number: number | undefined): void;
  abstract redraw(): void;
  abstract shaping(on: boolean): void;
  abstract showUnclean(found: Cleaning | undefined): void;
  abstract picture(): Promise<Blob | null>;
  /** Address of a small picture of pieces standing elsewhere: of layout number `n` that came of a task. */
  abstract small(poses: readonly Placed[], width: number, height: number, task: string, n: number): string;
  /** Where a point of the tank lies in a view, in pixels from its left upper corner; undefined where it is not seen. */
  abstract spot(at: Vector3, view: View, box: HTMLElement): [number, number] | undefined;

  numbers(): number[] {
    return [...this.poses.keys()].sort((one, other) => one - other);
  }

  poseOf(number: number): Pose | undefined {
    const found = this.poses.get(number);
    return found && { position: found.position.clone(), turn: found.turn.clone() };
  }

  /** Centre of mass of a piece where it stands. */
  centre(number: number): Vector3 {
    const pose = this.poses.get(number)!;
    return new Vector3(...(this.pieces.get(this.pieceOf(number))!.centre_m as [number, number, number])).applyQuaternion(pose.turn).add(pose.position);
  }

  /** The pose of a piece turned further about its centre. */
  turned(number: number, further: Quaternion): Pose {
    const pose = this.poseOf(number)!;
    const centre = this.centre(number);
    const position = pose.position.sub(centre).applyQuaternion(further).add(centre);
    return { position, turn: further.clone().multiply(pose.turn) };
  }

  /** Height of the lowest corner of a piece over its own origin, turned so. */
  lowest(piece: string, turn: Quaternion): number {
    const corners = floats(this.pieces.get(piece)!.vertices_m);
    const at = new Vector3();
    let low = Infinity;
    for (let n = 0; n < corners.length; n += 3) low = Math.min(low, at.set(corners[n]!, corners[n + 1]!, corners[n + 2]!).applyQuaternion(turn).z);
    return low;
  }
}

export function poseOf(item: { position_m: readonly number[]; turn: readonly number[] }): Pose {
  const [x, y, z] = item.position_m as [number, number, number];
  const [w, a, b, c] = item.turn as [number, number, number, number];
  return { position: new Vector3(x, y, z), turn: new Quaternion(a, b, c, w) };
}
