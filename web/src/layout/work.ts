// Long work of the office for a layout: how far it is, how to stop it, and what to do with what came of it.
import { Refused, type Calls, type Outcome } from "./calls";
import type { Desk } from "./desk";
import type { Board } from "./board";

const AGAIN_MS = 700;
const SMALL_PX = [384, 216] as const;

export interface Bench {
  calls: Calls;
  desk: Desk;
  stage: Board;
  say: (name: string, values?: Record<string, string | number>) => string;
  refused: (sentence: string) => void;
  intent: string;
  seed: number;
}

/** Have it done, tell how far it is, show what came of it. */
export async function followWork(act: "settle" | "propose", bench: Bench): Promise<void> {
  const told = document.getElementById(act === "settle" ? "settled" : "proposed")!;
  const buttons = document.querySelectorAll<HTMLButtonElement>('[data-do="settle"], [data-do="propose"]');
  for (const button of buttons) button.disabled = true;
  try {
    const id = await ended(act, bench, told);
    if (!id) return;
    const outcome = await bench.calls.outcome(id);
    told.replaceChildren(...outcome.told.map((text) => element("p", text)));
    if (act === "settle") settledCard(outcome, id, bench, told);
    else cards(outcome, id, bench);
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    told.replaceChildren();
    bench.refused(error.message);
  } finally {
    for (const button of buttons) button.disabled = false;
  }
}

/** The id of the task once it is done; nothing where it came to no end of use, which was told. */
async function ended(act: "settle" | "propose", bench: Bench, told: HTMLElement): Promise<string | undefined> {
  const { revision } = bench.desk.state;
  let task = await (act === "settle" ? bench.calls.settle(revision) : bench.calls.propose(revision, bench.intent, bench.seed));
  const line = element("p", "");
  const stop = element("button", bench.say("stop")) as HTMLButtonElement;
  stop.type = "button";
  stop.className = "quiet";
  stop.addEventListener("click", () => void bench.calls.stop(task.id));
  const far = element("progress", "") as HTMLProgressElement;
  far.setAttribute("aria-label", bench.say("counting"));
  told.replaceChildren(line, far, stop);
  while (task.state === "waiting" || task.state === "running") {
    if (task.doing) line.textContent = task.doing;
    const [, done, of] = /(\d+) of (\d+)/.exec(task.doing ?? "") ?? [];
    if (done && of) [far.max, far.value] = [Number(of), Number(done)];
    await new Promise((done) => setTimeout(done, AGAIN_MS));
    task = await bench.calls.task(task.id);
  }
  if (task.state === "done") return task.id;
  told.replaceChildren(element("p", task.fault ?? bench.say("stopped")));
  return undefined;
}

function settledCard(outcome: Outcome, id: string, bench: Bench, told: HTMLElement): void {
  if (outcome.ways.length) told.append(taking(bench.say("settled_take"), id, 1, outcome, bench));
}

function cards(outcome: Outcome, id: string, bench: Bench): void {
  const made = outcome.ways.map((way) => {
    const card = document.createElement("section");
    card.className = "card";
    const name = `${bench.say("proposal", { n: way.number })} · ${bench.say("proposal_score", { percent: (way.percent ?? 0).toFixed(0) })}`;
    const picture = document.createElement("img");
    picture.src = bench.stage.small(way.placements, ...SMALL_PX, id, way.number);
    [picture.width, picture.height] = SMALL_PX;
    picture.alt = name;
    const reasons = element("ul", "");
    reasons.append(...way.reasons.map((text) => element("li", text)));
    const take = taking(bench.say("take"), id, way.number, outcome, bench);
    take.setAttribute("aria-label", `${bench.say("take")}: ${bench.say("proposal", { n: way.number })}`);
    card.append(element("h3", name), picture, reasons, take);
    return card;
  });
  document.getElementById("cards")!.replaceChildren(...made);
}

function taking(words: string, id: string, number: number, outcome: Outcome, bench: Bench): HTMLButtonElement {
  const button = element("button", words) as HTMLButtonElement;
  button.type = "button";
  button.addEventListener("click", () => {
    bench.refused(outcome.revision === bench.desk.state.revision ? "" : bench.say("older"));
    void bench.desk.act(() => bench.calls.take(bench.desk.state.revision, bench.desk.bed.mark, id, number));
  });
  return button;
}

function element(tag: string, text: string): HTMLElement {
  const made = document.createElement(tag);
  made.textContent = text;
  return made;
}
