// The niceties of the pages. Every page does its job without this file.
// @ts-check

import { busy, calm, change, pressed, say, typing, unfold } from "/static/hands.js";

const page = document.body;
const job = page.dataset.job ?? "";

/* The time on this device goes with every form. */
document.addEventListener("submit", (event) => {
  const form = /** @type {HTMLFormElement} */ (event.target);
  const told = form.querySelector("input[name=device_time]");
  if (told instanceof HTMLInputElement) told.value = new Date().toISOString();
}, true);

/* Single keys, unless they are switched off. */
const keys = document.documentElement.dataset.keys !== "off";
let gone = 0; // when g was pressed
const aims = {
  "/": () => focusOn("[data-key=search]") || location.assign("/"),
  n: () => focusOn("#next") || undefined,
  u: () => focusOn("[data-undo] button") || undefined,
  "?": () => location.assign("/keys"),
};

/** @param {string} what */
function focusOn(what) {
  const found = /** @type {HTMLElement | null} */ (document.querySelector(what));
  if (!found) return false;
  unfold(found);
  if (!found.matches("input, button, a")) found.tabIndex = -1;
  found.focus();
  found.scrollIntoView({ block: "start" });
  return true;
}

document.addEventListener("keydown", (event) => {
  if (!keys || event.ctrlKey || event.metaKey || event.altKey || typing()) return;
  if (event.key === "j" && Date.now() - gone < 1500) return location.assign("/");
  gone = event.key === "g" ? Date.now() : 0;
  const aim = aims[/** @type {keyof typeof aims} */ (event.key)];
  if (aim) { event.preventDefault(); aim(); }
});

/* Somebody else wrote something, or the list is ready: take the new parts in, or say so. */
async function refresh() {
  if (document.hidden || !navigator.onLine || !job || "past" in page.dataset) return;
  const making = "making" in page.dataset;
  const now = await fetch(`/api/jobs/${job}`, { headers: { "If-None-Match": `"${page.dataset.version}"` } });
  if (now.status === 304 && !making) return;
  if (!now.ok && now.status !== 304) return;
  const answer = await fetch(location.href);
  if (!answer.ok || answer.redirected) return;
  const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
  if (making && "making" in fresh.body.dataset) return void (pressed() || document.querySelector("#next")?.replaceWith(fresh.querySelector("#next") ?? ""));
  await calm();
  if (busy()) return say(making ? "The list is ready." : "Somebody else wrote something down in this job.", location.pathname + location.search);
  if (making) return location.reload();
  page.dataset.version = fresh.body.dataset.version;
  const sheet = document.querySelector("#next"), stood = sheet?.getBoundingClientRect().top ?? 0;
  for (const part of document.querySelectorAll("[data-refresh], #next")) {
    const name = part instanceof HTMLElement ? part.dataset.refresh : "";
    const other = fresh.querySelector(name ? `[data-refresh="${name}"]` : "#next");
    other?.querySelectorAll("details").forEach((box, n) => { box.open ||= part.querySelectorAll("details")[n]?.open ?? false; });
    if (other) part.replaceWith(document.adoptNode(other));
  }
  change();
  scrollBy({ top: (document.querySelector("#next")?.getBoundingClientRect().top ?? stood) - stood, behavior: "instant" });
}

if (job && (document.querySelector(".bay") || "making" in page.dataset)) {
  const again = () => refresh().catch(() => undefined).finally(() => setTimeout(again, "making" in page.dataset ? 1000 : 5000));
  setTimeout(again, "making" in page.dataset ? 700 : 5000);
}

/* A desk has room for what a phone keeps folded; the style shows it until then. */
if (matchMedia("(min-width: 60rem)").matches) document.querySelectorAll("details.fold:not(.late)").forEach(unfold);
document.documentElement.dataset.unfolded = "";

/* The screen stays on while a check is open; only a trusted connection allows it. */
async function stayOn() {
  if (document.hidden || !("wakeLock" in navigator) || !document.querySelector("[data-open-check]")) return;
  await navigator.wakeLock.request("screen").catch(() => undefined);
}
document.addEventListener("visibilitychange", stayOn);
stayOn();

/* Codes are read while they are typed, by the server's own reader. */
const box = /** @type {HTMLTextAreaElement | null} */ (document.querySelector("[data-decode]"));
const read = document.querySelector("[data-decoded]");
let wait = 0;
box?.addEventListener("input", () => {
  clearTimeout(wait);
  wait = window.setTimeout(decode, 350);
});

async function decode() {
  if (!box || !read || !box.value.trim()) return;
  const answer = await fetch("/api/decode", {
    method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ text: box.value }),
  }).catch(() => null);
  if (!answer?.ok) return;
  const { document: told } = await answer.json();
  await calm();
  const lines = told.codes.map((/** @type {any} */ code) => [
    code.failure_type ? `${code.code}-${code.failure_type}` : code.code,
    code.meanings.length > 1 ? "means one of two things: press “Read them” and say which"
      : code.meanings[0]?.watched ?? "no meaning here: kept as text",
    code.label ?? "",
  ].filter(Boolean).join(", "));
  const issues = told.issues.map((/** @type {any} */ issue) => issue.message);
  read.replaceChildren(...[...lines, ...issues].map((text) => {
    const line = document.createElement("p");
    line.className = "note";
    line.textContent = text;
    return line;
  }));
}
