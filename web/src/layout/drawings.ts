// The layout as drawings to scale that the office makes, for a browser that draws nothing in three dimensions.
import { Board, poseOf, type Pose, type View } from "./board";
import type { Piece, Placed } from "./calls";

export class Drawings extends Board {
  private readonly standing = new Map<number, string>();
  private shown = 0;

  constructor(
    pieces: readonly Piece[],
    private readonly job: string,
    private readonly alt: (view: View) => string,
  ) {
    super(pieces);
  }

  protected pieceOf(number: number): string {
    return this.standing.get(number)!;
  }

  show(placements: readonly Placed[]): void {
    this.standing.clear();
    this.poses.clear();
    for (const item of placements) {
      this.standing.set(item.number, item.piece);
      this.poses.set(item.number, poseOf(item));
    }
    // Another number each time: the same address would be the drawing of before.
    this.shown += 1;
    this.redraw();
  }

  pose(number: number, pose: Pose): void {
    this.poses.set(number, { position: pose.position.clone(), turn: pose.turn.clone() });
  }

  redraw(): void {
    for (const { view, box } of this.panes) {
      let picture = box.querySelector("img");
      if (!picture) box.append((picture = document.createElement("img")));
      const address = `/jobs/${this.job}/layout/drawings/${view === "above" ? "plan" : view}.svg?shown=${this.shown}`;
      if (picture.getAttribute("src") !== address) picture.src = address;
      picture.alt = this.alt(view);
    }
  }

  small(_: readonly Placed[], _width: number, _height: number, task: string, n: number): string {
    return `/jobs/${this.job}/layout/drawings/plan.svg?came=${task}&way=${n}`;
  }

  async picture(): Promise<Blob | null> {
    const address = this.panes[0]?.box.querySelector("img")?.src;
    return address ? (await fetch(address)).blob() : null;
  }

  choose(): void {}
  shaping(): void {}
  showUnclean(): void {}
  spot(): undefined {
    return undefined;
  }
}
