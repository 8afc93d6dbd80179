// Long work of the office for a layout: how far it is, how to stop it, and what to do with what came of it.
import { Refused, type Calls } from "./calls";
import type { Desk } from "./desk";
import type { Stage } from "./stage";

export interface Bench {
  calls: Calls;
  desk: Desk;
  stage: Stage;
  say: (name: string, values?: Record<string, string | number>) => string;
  refused: (sentence: string) => void;
  intent: string;
  perM: number;
  unit: string;
}

export async function followWork(_act: "settle" | "propose", bench: Bench): Promise<void> {
  try {
    await bench.calls.versions();
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    bench.refused(error.message);
  }
}
