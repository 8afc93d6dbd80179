// Pages work without this file; with it, parts of a page are renewed in place.
import htmx from "htmx.org";
import "./fold";
import "./log";
import "./survey";

htmx.config.allowEval = false;
htmx.config.includeIndicatorStyles = false;

// A refusal carries its sentence in its body: show it where the answer would have stood.
document.addEventListener("htmx:beforeSwap", (event) => {
  const detail = (event as CustomEvent<{ xhr: XMLHttpRequest; shouldSwap: boolean; isError: boolean }>).detail;
  if (detail.xhr.status === 409 || detail.xhr.status === 422) {
    detail.shouldSwap = true;
    detail.isError = false;
  }
});

// What was typed while nobody answers stays on the page, says so, and is sent again.
const AGAIN_MS = 5000;
document.addEventListener("htmx:sendError", (event) => {
  const form = event.target as HTMLElement;
  const saved = document.getElementById("saved");
  if (saved?.dataset["unsaved"]) {
    saved.textContent = saved.dataset["unsaved"];
    setTimeout(() => htmx.trigger(form, "change", {}), AGAIN_MS);
  }
});
