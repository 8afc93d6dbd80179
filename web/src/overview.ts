// The list of parts says how far each of them is; answers that were sent as a page was left may arrive after the list.
import htmx from "htmx.org";

const SOON_MS = [400, 2000];

function renew(): void {
  htmx.ajax("get", location.pathname, { target: "ol.parts", select: "ol.parts", swap: "outerHTML" });
}

/** Whether a part of this job was left with answers that nobody has heard to be saved. */
function leftOpen(): boolean {
  return Object.keys(sessionStorage).some((name) => name.startsWith(`survey ${location.pathname}/survey/`));
}

addEventListener("pageshow", (event) => {
  if (!document.querySelector("ol.parts")) return;
  if (event.persisted) renew();
  if (event.persisted || leftOpen()) for (const after of SOON_MS) setTimeout(renew, after);
});
