// The typed API of the office, as the editor asks it. What it refuses comes back as a sentence.
import type { components } from "../api";

type Schemas = components["schemas"];
export type Scene = Schemas["Scene"];
export type State = Schemas["LayoutState"];
export type Piece = Schemas["PieceItem"];
export type Placed = Schemas["PlacedItem"];
export type BedItem = Schemas["BedItem"];
export type Glass = Schemas["GlassItem"];
export type Edit = Schemas["Changes"]["edits"][number];
export type Figures = Schemas["LayoutFigures"];
export type Cleaning = Schemas["Cleaning"];
export type SavedItem = Schemas["SavedItem"];
export type Outcome = Schemas["Outcome"];
export type Task = Schemas["Task"];
export type Side = Glass["public_sides"][number];

/** The office said no, in a sentence. */
export class Refused extends Error {
  constructor(
    readonly status: number,
    message: string,
  ) {
    super(message);
  }
}

export class Calls {
  constructor(
    private readonly job: string,
    private readonly units: string,
    private readonly offline: string,
  ) {}

  private async ask<T>(path: string, body?: unknown): Promise<T> {
    let answer: Response;
    try {
      answer = await fetch(path, {
        method: body === undefined ? "GET" : "POST",
        headers: { accept: "application/json", ...(body === undefined ? {} : { "content-type": "application/json" }) },
        ...(body === undefined ? {} : { body: JSON.stringify(body) }),
      });
    } catch {
      throw new Refused(0, this.offline);
    }
    const told = await answer.json().catch(() => ({ message: this.offline }));
    if (!answer.ok) throw new Refused(answer.status, (told as { message?: string }).message ?? this.offline);
    return told as T;
  }

  private at(path: string): string {
    return `/api/jobs/${this.job}/layout${path}`;
  }

  scene = () => this.ask<Scene>(this.at(""));
  edit = (revision: number, bed: string, edits: Edit[]) => this.ask<State>(this.at("/edits"), { revision, bed, edits });
  undo = (revision: number, bed: string) => this.ask<State>(this.at("/undo"), { revision, bed });
  redo = (revision: number, bed: string) => this.ask<State>(this.at("/redo"), { revision, bed });
  figures = () => this.ask<Figures>(this.at(`/figures?units=${this.units}`));
  cleaning = () => this.ask<Cleaning>(this.at(`/cleaning?units=${this.units}`));
  versions = () => this.ask<SavedItem[]>(this.at("/versions"));
  save = (revision: number, bed: string, title: string) => this.ask<State>(this.at("/versions"), { revision, bed, title });
  back = (revision: number, bed: string, number: number) => this.ask<State>(this.at(`/versions/${number}/back`), { revision, bed });
  settle = (revision: number) => this.ask<Task>(this.at(`/settle?units=${this.units}`), { revision });
  propose = (revision: number, intent: string, seed: number) => this.ask<Task>(this.at(`/proposals?units=${this.units}`), { revision, intent, seed });
  outcome = (id: string) => this.ask<Outcome>(this.at(`/work/${id}?units=${this.units}`));
  take = (revision: number, bed: string, id: string, number: number) => this.ask<State>(this.at(`/work/${id}/take`), { revision, bed, number });
  task = (id: string) => this.ask<Task>(`/api/tasks/${id}`);
  stop = (id: string) => this.ask<Task>(`/api/tasks/${id}/cancel`, {});
}

function bytes(text: string): ArrayBuffer {
  const plain = atob(text);
  const found = new Uint8Array(plain.length);
  for (let n = 0; n < plain.length; n++) found[n] = plain.charCodeAt(n);
  return found.buffer;
}

export const floats = (text: string) => new Float32Array(bytes(text));
export const wholes = (text: string) => new Uint16Array(bytes(text));
