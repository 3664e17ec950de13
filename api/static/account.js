// The account of a list comes in by itself, into places held for it, so that nothing moves.
// @ts-check

const page = document.body;
const SOON = 700, LATE = 4000; // milliseconds between two looks, longer from look to look
let next = SOON;
const waiting = () => /** @type {HTMLElement[]} */ ([...document.querySelectorAll("[data-waits]")]);

/* Ask how far the account is, which is cheap; take it in when it is there. */
async function look() {
  if (!waiting().length || document.hidden || !navigator.onLine) return (next = SOON);
  next = Math.min(next * 1.3, LATE);
  const told = await fetch(`/api/jobs/${page.dataset.job}/progress`);
  const going = told.ok && (await told.json()).account.state === "being-made";
  if (going && !("past" in page.dataset)) return;
  const answer = await fetch(location.href);
  const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
  if (!answer.ok || fresh.body.dataset.version !== page.dataset.version) return;
  for (const part of waiting()) {
    const place = CSS.escape(part.dataset.account ?? "");
    const other = /** @type {HTMLElement | null} */ (fresh.querySelector(`[data-account="${place}"]`));
    if (!other || "waits" in other.dataset) continue;
    part.replaceChildren(...[...other.childNodes].map((node) => document.importNode(node, true)));
    delete part.dataset.waits;
  }
}
const again = () => look().catch(() => undefined).finally(() => setTimeout(again, next));
if (page.dataset.job) setTimeout(again, SOON);
