// What is touched in the log of a day is kept on this machine until the office has it, with the moment of the touch.
interface Said {
  to: string;
  body: string;
}

const QUEUE = "log";
const AGAIN_MS = 5000;
let sending = false;

function waiting(): Said[] {
  return JSON.parse(localStorage.getItem(QUEUE) ?? "[]") as Said[];
}

function keep(said: Said[]): void {
  if (said.length) localStorage.setItem(QUEUE, JSON.stringify(said));
  else localStorage.removeItem(QUEUE);
}

/** The page that answers, in place of the one that asked; one that was opened by other hands stays as it is. */
function show(page: string, address: string): void {
  const main = new DOMParser().parseFromString(page, "text/html").querySelector("main");
  const asked = document.querySelector("form[data-log]");
  if (!main || !asked) return;
  document.querySelector("main")?.replaceWith(main);
  history.replaceState(null, "", address);
  scrollTo(0, 0);
  main.focus({ preventScroll: true });
}

async function flush(): Promise<void> {
  if (sending || !waiting().length) return;
  sending = true;
  let last: [string, string] | undefined;
  try {
    for (let [first] = waiting(); first; [first] = waiting()) {
      const headers = { "Content-Type": "application/x-www-form-urlencoded" };
      const answer = await fetch(first.to, { method: "POST", body: first.body, headers });
      if (answer.status >= 500) break;
      // Taken, or refused with a sentence for whoever reads the page: sending it again would not change that.
      last = [await answer.text(), answer.url];
      keep(waiting().slice(1));
      if (!answer.ok) break;
    }
  } catch {
    // Nobody answers: what waits is sent again below.
  } finally {
    sending = false;
  }
  if (last) show(...last);
  const left = waiting().length > 0;
  const notice = document.getElementById("unsent");
  if (notice) notice.hidden = !left;
  if (left) setTimeout(flush, AGAIN_MS);
}

document.addEventListener("submit", (event) => {
  const form = event.target as HTMLFormElement;
  if (!form.matches("form[data-log]")) return;
  event.preventDefault();
  const said = new URLSearchParams();
  for (const [name, value] of new FormData(form, event.submitter)) said.append(name, String(value));
  said.set("tapped", new Date().toISOString());
  if (event.submitter instanceof HTMLButtonElement && event.submitter.value) event.submitter.disabled = true;
  keep([...waiting(), { to: form.action, body: said.toString() }]);
  void flush();
});
addEventListener("online", () => void flush());
void flush();
