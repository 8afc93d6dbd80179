// What the office says of the layout, and the acts that are on their way to it, one after the other.
import { Refused, type BedItem, type Calls, type Edit, type Placed, type State } from "./calls";

export interface Hearer {
  /** The truth has changed. */
  told(state: State): void;
  /** An act was refused: what was shown meanwhile is taken back. */
  refused(sentence: string): void;
}

export class Desk {
  state: State;
  bed: BedItem;
  private line: Promise<void> = Promise.resolve();
  private waiting = 0;

  constructor(
    private readonly calls: Calls,
    state: State,
    private readonly hearer: Hearer,
  ) {
    this.state = state;
    this.bed = state.bed!;
  }

  placed(number: number | undefined): Placed | undefined {
    return this.state.placements.find((item) => item.number === number);
  }

  get busy(): boolean {
    return this.waiting > 0;
  }

  edit(...edits: Edit[]): Promise<boolean> {
    return this.act(() => this.calls.edit(this.state.revision, this.bed.mark, edits));
  }

  undo = () => this.act(() => this.calls.undo(this.state.revision, this.bed.mark));
  redo = () => this.act(() => this.calls.redo(this.state.revision, this.bed.mark));
  save = (title: string) => this.act(() => this.calls.save(this.state.revision, this.bed.mark, title));
  back = (number: number) => this.act(() => this.calls.back(this.state.revision, this.bed.mark, number));

  /** Ask for something that gives a new state, after everything before it; whether it was taken. */
  act(ask: () => Promise<State>): Promise<boolean> {
    this.waiting += 1;
    const done = this.line.then(() => this.heard(ask));
    this.line = done.then(() => undefined);
    return done;
  }

  private async heard(ask: () => Promise<State>): Promise<boolean> {
    try {
      this.take(await ask());
      return true;
    } catch (error) {
      const refused = error instanceof Refused ? error : new Refused(0, String(error));
      if (refused.status === 409) {
        try {
          this.take((await this.calls.scene()).state);
        } catch {
          // The sentence below says enough.
        }
      }
      this.hearer.told({ ...this.state, bed: this.bed });
      this.hearer.refused(refused.message);
      return false;
    } finally {
      this.waiting -= 1;
    }
  }

  private take(state: State): void {
    this.state = state;
    if (state.bed) this.bed = state.bed;
    // A later act that is on its way was made on what is on the screen: only the last answer is drawn.
    if (this.waiting === 1) this.hearer.told(state.bed ? state : { ...state, bed: this.bed });
  }
}
