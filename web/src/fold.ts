// Long pages come open, so that nothing is lost without scripts or on paper; here they are folded to their headings.
export {};
const folds = (): HTMLDetailsElement[] => [...document.querySelectorAll<HTMLDetailsElement>("details[data-fold]")];

function openAt(hash: string): void {
  const target = hash.length > 1 ? document.getElementById(decodeURIComponent(hash.slice(1))) : null;
  for (let at: HTMLElement | null = target; at; at = at.parentElement) {
    if (at instanceof HTMLDetailsElement) at.open = true;
  }
  target?.scrollIntoView();
}

for (const fold of folds()) fold.open = false;
openAt(location.hash);
addEventListener("hashchange", () => openAt(location.hash));
// A jump to the part that the address names already changes nothing in it, and yet is to open it.
document.addEventListener("click", (event) => {
  const link = (event.target as Element).closest<HTMLAnchorElement>('a[href^="#"]');
  if (link && link.hash === location.hash) openAt(link.hash);
});

// What is folded is printed open, but for the workings of every figure and the tables that repeat a drawing: they would
// fill more pages than all the rest, and print where they were opened.
let closed: HTMLDetailsElement[] = [];
addEventListener("beforeprint", () => {
  const all = document.querySelectorAll<HTMLDetailsElement>("details:not([open])");
  closed = [...all].filter((fold) => fold.closest("details.whys, figure > details") === null);
  for (const fold of closed) fold.open = true;
});
addEventListener("afterprint", () => {
  for (const fold of closed) fold.open = false;
});
