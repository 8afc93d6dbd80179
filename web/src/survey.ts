// Nothing that was typed in the survey is lost when its page is left before it was saved.
import htmx from "htmx.org";

type Answers = Record<string, string[]>;
interface Draft {
  based_on: string;
  answers: Answers;
}

const form = document.querySelector<HTMLFormElement>("form.survey");
const DRAFT = `survey ${location.pathname}`;

/** Names of fields that were typed in and not sent yet, and of those that are on their way. */
let typed = new Set<string>();
let sent = new Set<string>();
/** Whether a button has sent the whole form, which then needs no second sending. */
let submitted = false;

function told(names: Iterable<string>): Answers {
  const data = new FormData(form!);
  return Object.fromEntries([...names].map((name) => [name, data.getAll(name).map(String)]));
}

function back(): void {
  for (const name of sent) typed.add(name);
  sent.clear();
}

async function send(draft: Draft, keepalive: boolean): Promise<boolean> {
  const body = new URLSearchParams({ based_on: draft.based_on });
  for (const [name, values] of Object.entries(draft.answers)) {
    for (const value of values.length ? values : [""]) body.append(name, value);
  }
  const answer = await fetch(form!.action, { method: "POST", body, keepalive, headers: { "HX-Request": "true" } });
  if (answer.ok || answer.status === 409) {
    htmx.swap(document.body, await answer.text(), { swapStyle: "none" } as never);
  }
  return answer.ok;
}

/** What is not known to be saved, noted for the next time the page is opened. */
function note(): Draft | undefined {
  back();
  if (!typed.size) return undefined;
  const based_on = form!.querySelector<HTMLInputElement>("#based_on")!.value;
  const draft = { based_on, answers: told(typed) };
  sessionStorage.setItem(DRAFT, JSON.stringify(draft));
  sent = typed;
  typed = new Set();
  return draft;
}

/** The page may never come back. */
function leave(): void {
  const draft = submitted ? undefined : note();
  if (!draft) return;
  send(draft, true).then(
    (saved) => (saved ? forget() : back()),
    () => back(),
  );
}

function forget(): void {
  sent.clear();
  sessionStorage.removeItem(DRAFT);
}

/** Put back what was noted when the page was left, unless it has been saved since. */
function restore(): void {
  const noted = sessionStorage.getItem(DRAFT);
  if (!noted) return;
  const draft = JSON.parse(noted) as Draft;
  const shown = told(Object.keys(draft.answers));
  const same = (one: string[] = [], other: string[] = []) => one.join("\n").replace(/\r/g, "") === other.join("\n").replace(/\r/g, "");
  if (document.getElementById("saved")?.textContent || Object.keys(shown).every((name) => same(shown[name], draft.answers[name]))) {
    forget();
    return;
  }
  for (const [name, values] of Object.entries(draft.answers)) {
    for (const field of document.getElementsByName(name)) fill(field, values);
  }
  send(draft, false).then(
    (saved) => saved && forget(),
    () => htmx.trigger(form!, "change", {}),
  );
}

function fill(field: HTMLElement, values: string[]): void {
  if (field instanceof HTMLInputElement && (field.type === "radio" || field.type === "checkbox")) {
    field.checked = values.includes(field.value);
  } else if (field instanceof HTMLInputElement && field.type === "hidden") {
    return;
  } else if (field instanceof HTMLInputElement || field instanceof HTMLTextAreaElement || field instanceof HTMLSelectElement) {
    field.value = values[0] ?? "";
  }
}

/** What the office says of answers that it cannot keep, in the place of what cannot be used. */
function refused(page: string): void {
  const said = new DOMParser().parseFromString(page, "text/html").querySelector("main p");
  const notice = document.createElement("div");
  notice.className = "notice bad";
  notice.setAttribute("role", "alert");
  notice.textContent = said?.textContent ?? "";
  document.getElementById("wrong")?.replaceChildren(notice);
}

/** A reading is taken without leaving the page. */
function take(event: MouseEvent): void {
  const button = (event.target as HTMLElement).closest<HTMLButtonElement>("button[name=take]");
  if (!button) return;
  event.preventDefault();
  const [name = "", ...rest] = button.value.split("=");
  for (const field of document.getElementsByName(name)) {
    fill(field, [rest.join("=")]);
    field.focus();
  }
  typed.add(name);
  htmx.trigger(form!, "change", {});
}

if (form) {
  restore();
  form.addEventListener("input", (event) => {
    const { name } = event.target as HTMLInputElement;
    if (name) typed.add(name);
    submitted = false;
  });
  form.addEventListener("click", take);
  form.addEventListener("submit", () => {
    note();
    submitted = true;
  });
  form.addEventListener("htmx:beforeRequest", (event) => {
    // The button sends all of it; sent beside it, the same answers would meet the card that it has just added.
    if (submitted) return event.preventDefault();
    for (const name of typed) sent.add(name);
    typed.clear();
  });
  form.addEventListener("htmx:afterRequest", (event) => {
    const { xhr } = (event as CustomEvent<{ xhr: XMLHttpRequest }>).detail;
    if (xhr.status === 200) return forget();
    back();
    if (xhr.status && xhr.status !== 409) refused(xhr.responseText);
  });
  addEventListener("pagehide", leave);
  addEventListener("pageshow", () => (submitted = false));
  addEventListener("pageshow", (event) => event.persisted && htmx.trigger(form, "change", {}));
  document.addEventListener("visibilitychange", () => document.visibilityState === "hidden" && leave());
}
// Who has chosen between two answers has said what counts.
document.addEventListener("submit", (event) => {
  if ((event.target as HTMLElement).closest("#clash")) forget();
});
