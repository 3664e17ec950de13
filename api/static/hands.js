// Nothing changes under a hand: what a page does by itself asks here first, and is told at the foot of the screen.
// @ts-check

const TAP = 500, WORD = 2000, LOOK = 600, LEAVE = 8000; // milliseconds
const long = -1e9, now = () => performance.now();
let down = long, touched = long, calmAt = long, left = long, changed = long;

/** @param {number} time */
const touch = (time) => { touched = now(); calmAt = Math.max(calmAt, touched + time); };
addEventListener("pointerdown", () => { down = now(); touch(TAP); }, true);
for (const end of ["pointerup", "pointercancel", "click"]) addEventListener(end, () => { down = long; touch(TAP); }, true);
addEventListener("input", () => touch(WORD), true);
addEventListener("pageshow", () => { left = long; });

/* Somebody leaves the page, by a link, a form, a key or the browser itself: nothing else may lead elsewhere. */
addEventListener("beforeunload", () => { left = now(); });
addEventListener("submit", (event) => { if (!event.defaultPrevented) left = now(); });
addEventListener("click", (event) => {
  const link = event.target instanceof Element ? event.target.closest("a[href]") : null;
  if (link && !event.defaultPrevented && !link.matches("[download], [href^='#']")) left = now();
});

/** What must not be cut off: answers on their way into the store of this device. */
export const hold = { answers: 0 };
/** A finger is down, an answer is being kept, or the page is being left; a finger that never came up is forgotten. */
export const pressed = () => now() - down < LEAVE || now() - left < LEAVE || hold.answers > 0;
export const time = now;

/** Wait until no hand has been at the page for a moment, or none since some time.
 * @param {number} [since] */
export async function calm(since = long) {
  while (pressed() || (touched > since && now() < calmAt)) await new Promise((done) => setTimeout(done, 50));
}

/** Something is half typed, or chosen and not sent. */
export const typing = () => document.activeElement?.matches("input, textarea, select") ?? false;
export const busy = () => typing() || [...document.querySelectorAll("textarea, input[type=text], input[type=file]")].some(
  (one) => one instanceof HTMLTextAreaElement || one instanceof HTMLInputElement ? one.value !== one.defaultValue : false);

/** Open whatever something is folded away in.
 * @param {Element} one */
export function unfold(one) {
  for (let box = one.closest("details"); box; box = box.parentElement?.closest("details") ?? null) box.open = true;
}

/** Say something at the foot of the screen, where nothing moves for it.
 * @param {string} text
 * @param {string} [go] */
export function say(text, go) {
  const bar = document.querySelector("[data-queue]"), line = bar?.querySelector(".told") ?? document.createElement("p");
  if (line.firstChild?.textContent === text) return;
  Object.assign(line, { className: "told row", role: "status" }).replaceChildren(Object.assign(document.createElement("span"), { textContent: text }));
  if (go) line.append(Object.assign(document.createElement("a"), { href: go, textContent: "Show it", className: "tap button" }));
  bar?.prepend(line);
}

/* A tap that was aimed at what stood there before is not taken for an answer to what stands there now. */
export const change = () => { changed = now(); };
document.addEventListener("click", (event) => {
  if (!event.detail || now() - changed > LOOK || !(event.target instanceof Element) || !event.target.closest("main")) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  say("Somebody else’s answer came in just as you tapped. Look, and tap again.");
}, true);
