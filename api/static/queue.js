// Answers survive a dead network: kept on this device first, then sent in order, each once.
// @ts-check

import { calm, hold, pressed, time } from "/static/hands.js";

/** @typedef {{n?: number, action: string, fields: [string, string][], who: string, words: string, at: string, refused?: string, go?: string, photo?: Blob}} Kept */

const bar = /** @type {HTMLElement} */ (document.querySelector("[data-queue]"));
const who = document.documentElement.dataset.person ?? "";
const told = typeof BroadcastChannel === "undefined" ? null : new BroadcastChannel("drypark");
let offline = !navigator.onLine;
let trusted = false; // the worker holds this page, so that it can be loaded without network
let held = ""; // why answers wait although the network is there

/* The kept answers, in IndexedDB: it is there on every connection. */
/** @type {Promise<IDBDatabase>} */
const base = new Promise((done, fail) => {
  const asked = indexedDB.open("drypark", 1);
  asked.onupgradeneeded = () => asked.result.createObjectStore("answers", { keyPath: "n", autoIncrement: true });
  asked.onsuccess = () => done(asked.result);
  asked.onerror = () => fail(asked.error);
  setTimeout(() => fail(new Error("the store does not open")), 3000); // then a form goes its plain way
});
base.catch(() => undefined);

/** @type {<T>(mode: IDBTransactionMode, ask: (store: IDBObjectStore) => IDBRequest<T>) => Promise<T>} */
async function kept(mode, ask) {
  const work = (await base).transaction("answers", mode);
  const asked = ask(work.objectStore("answers"));
  return new Promise((done, fail) => {
    work.oncomplete = () => done(asked.result);
    work.onabort = work.onerror = () => fail(work.error);
  });
}
/** @returns {Promise<Kept[]>} */
const all = () => kept("readonly", (store) => store.getAll());
/** @param {Kept} one */
const keep = (one) => kept("readwrite", (store) => store.put(one));
/** @param {number} n */
const drop = (n) => kept("readwrite", (store) => store.delete(n));

/** An id made on this device; randomUUID is missing on plain http, getRandomValues is not. */
const newId = () => [...crypto.getRandomValues(new Uint8Array(12))].map((byte) => byte.toString(16).padStart(2, "0")).join("");

/* Sending: one after the other; what waits stays first in line. */
/** @type {Promise<string> | null} */
let sending = null;
const flush = () => (sending ??= inTurn().finally(() => { sending = null; show(); told?.postMessage("changed"); }));
/** @returns {Promise<string>} */
const inTurn = async () => (navigator.locks ? await navigator.locks.request("drypark-queue", sendAll) : await sendAll());

/** Return where the page should go after the last answer that was taken. */
async function sendAll() {
  let go = "";
  const waiting = (await all()).filter((one) => !one.refused);
  if (!waiting.length && !offline) return go;
  const now = await ask("/api/session", { headers: { Accept: "application/json" } });
  if (!now?.ok) return go;
  const person = (await now.json()).person;
  held = person ? "" : "Nobody is signed in: sign in, and they are sent.";
  for (const one of person ? waiting : []) {
    if (one.who !== person.id) { held = "Some belong to somebody else, and are sent when that person signs in here."; continue; }
    const answer = await ask(one.action, { method: "POST", headers: { Accept: "application/json" }, body: bodyOf(one) });
    if (!answer) break;
    if (answer.status === 401 || answer.status === 429 || answer.status >= 500) {
      held = answer.status === 401 ? "Nobody is signed in: sign in, and they are sent." : "The server is busy: they are sent when it answers.";
      break;
    }
    const said = answer.headers.get("content-type")?.includes("json") ? await answer.json() : {};
    if (!answer.ok) await keep({ ...one, refused: said.detail ?? `refused with number ${answer.status}` });
    else if (said.needs) await keep({ ...one, refused: "it needs the place where that was found", go: said.go });
    else await drop(/** @type {number} */ (one.n));
    go = said.go ?? (answer.redirected ? answer.url : go);
  }
  return go;
}

/** As the form itself would have been posted.
 * @param {Kept} one */
function bodyOf(one) {
  if (!one.photo) return new URLSearchParams(one.fields);
  const body = new FormData();
  for (const [name, value] of one.fields) body.append(name, value);
  body.append("photo", one.photo, "photo");
  return body;
}

/** A photo made small on this device; the pixels alone, so that where it was taken stays here.
 * @param {File} file */
async function small(file) {
  try {
    const picture = await createImageBitmap(file), scale = Math.min(1, 1600 / Math.max(picture.width, picture.height));
    const canvas = Object.assign(document.createElement("canvas"), { width: Math.round(picture.width * scale), height: Math.round(picture.height * scale) });
    canvas.getContext("2d")?.drawImage(picture, 0, 0, canvas.width, canvas.height);
    return await new Promise((done) => canvas.toBlob((made) => done(made ?? file), "image/jpeg", 0.85));
  } catch { return file; } // no picture that this browser reads: the server says what is wrong
}

/** @type {(url: string, how: RequestInit) => Promise<Response | null>} */
async function ask(url, how) {
  const answer = await fetch(url, { ...how, signal: AbortSignal.timeout(15000) }).catch(() => null);
  offline = answer === null;
  return answer;
}

/* A form is kept before it is sent. */
document.addEventListener("submit", (event) => {
  const form = /** @type {HTMLFormElement} */ (event.target);
  if (form.matches("[data-sign-out]")) return void signOut(event, form);
  if (!form.matches("[data-event]") || event.defaultPrevented) return;
  event.preventDefault();
  const tapped = /** @type {HTMLButtonElement | null} */ (event.submitter);
  const said = new FormData(form, tapped);
  const file = said.get("photo"), photo = file instanceof File && file.size ? file : null;
  const what = JSON.stringify([...said].filter(([name]) => name !== "event" && name !== "device_time")
    .map(([name, value]) => [name, value instanceof File ? `${value.name} ${value.size} ${value.lastModified}` : value]));
  if (form.dataset.said === what) return; // a second tap on the same answer
  form.dataset.said = what;
  said.set("event", newId());
  said.set("device_time", new Date().toISOString());
  const fields = /** @type {[string, string][]} */ ([...said].filter(([, value]) => typeof value === "string"));
  const about = form.closest(".target, section")?.querySelector("h2, h3")?.textContent ?? document.title;
  const words = `${about.trim()}: ${(tapped?.textContent ?? "written").replace(/\s+/g, " ").trim()}`;
  const one = { action: new URL(form.action).pathname, fields, who, words, at: new Date().toISOString() };
  const since = time();
  hold.answers += 1;
  Promise.resolve(photo && small(photo)).then((made) => store(form, made ? { ...one, photo: made } : one))
    .finally(() => { hold.answers -= 1; }).then((n) => after(form, tapped, n, since))
    .catch(() => (offline ? tell(form, "caution", "There is no room for this on the device, and no network. Leave it here and try again.") : native(form, tapped)));
});

/** Return the number under which an answer is kept.
 * @type {(form: HTMLFormElement, one: Kept) => Promise<number>} */
async function store(form, one) {
  if (form.dataset.kept) { // what was refused before is replaced by this
    const old = (await all()).find((row) => String(row.n) === form.dataset.kept && row.refused);
    if (old?.n) await drop(old.n);
  }
  const n = Number(await keep(one));
  form.dataset.kept = String(n);
  form.dispatchEvent(new Event("kept", { bubbles: true }));
  return n;
}

/** @type {(form: HTMLFormElement, tapped: HTMLButtonElement | null, n: number, since: number) => Promise<void>} */
async function after(form, tapped, n, since) {
  const slow = setTimeout(() => { press(form, tapped); tell(form, "said", "Kept on this device, being sent."); }, 150);
  await sending;
  const go = await flush().finally(() => clearTimeout(slow));
  const left = (await all()).find((row) => row.n === n);
  if (!left || left.go) { if (left) await drop(n); return onward(go || location.href, since); }
  if (left.refused) delete form.dataset.said;
  press(form, tapped);
  if (left.refused) tell(form, "caution", `Not taken: ${left.refused}`);
  else tell(form, "said", "Kept on this device, not sent yet.");
}

/** @type {(form: HTMLFormElement, tapped: HTMLButtonElement | null) => void} */
function press(form, tapped) {
  for (const button of form.querySelectorAll("button")) button.setAttribute("aria-pressed", String(button === tapped));
}

/** @type {(form: HTMLFormElement, look: string, text: string) => void} */
function tell(form, look, text) {
  const line = form.querySelector("[data-kept-line]") ?? form.appendChild(document.createElement("p"));
  line.setAttribute("data-kept-line", "");
  line.className = look;
  line.textContent = text;
}

/** This browser keeps nothing: the form goes its plain way.
 * @type {(form: HTMLFormElement, tapped: HTMLButtonElement | null) => void} */
function native(form, tapped) {
  if (tapped?.name) form.append(Object.assign(document.createElement("input"), { type: "hidden", name: tapped.name, value: tapped.value }));
  form.submit();
}

/** @type {(go: string, since: number) => Promise<void>} */
async function onward(go, since) {
  await calm(since); // another answer, another link, a word: they come first
  const to = new URL(go, location.href);
  if (to.pathname + to.search !== location.pathname + location.search) return location.assign(to);
  history.replaceState(null, "", to);
  history.scrollRestoration = "manual"; // to what comes next, not to where the button was
  location.reload();
}

/* A page that was loaded anew after an answer stands where the answer said. */
if (history.scrollRestoration === "manual") document.getElementById(location.hash.slice(1))?.scrollIntoView();

/** Signing out waits for what is not sent; a second tap leaves it kept here.
 * @type {(event: Event, form: HTMLFormElement) => Promise<void>} */
async function signOut(event, form) {
  if (form.dataset.warned) return;
  event.preventDefault();
  await flush().catch(() => undefined);
  const left = (await all().catch(() => [])).length;
  if (!left) return form.submit();
  form.dataset.warned = "yes";
  held = `Signing out leaves ${count(left)} on this device, kept for you. Tap again to sign out all the same.`;
  show();
}

/* What the page says of itself. */
/** @type {(n: number) => string} */
const count = (n) => (n === 1 ? "1 answer" : `${n} answers`);
/** @type {(tag: string, text: string, more?: object) => HTMLElement} */
const made = (tag, text, more = {}) => Object.assign(document.createElement(tag), { textContent: text, ...more });
const status = made("p", "", { className: "queue-line" });
const list = made("div", "");
status.setAttribute("role", "status");
bar.append(status, list);
bar.setAttribute("role", "region");
bar.setAttribute("aria-label", "Answers on this device");
let shown = "";

async function show() {
  const rows = await all().catch(() => /** @type {Kept[]} */ ([]));
  const refused = rows.filter((one) => one.refused).length, waiting = rows.length - refused;
  const parts = [];
  const photos = rows.filter((one) => one.photo && !one.refused).length;
  if (waiting) parts.push(`${count(waiting)} waiting to be sent${photos ? `, photos among them: ${photos}` : ""}.`);
  if (refused) parts.push(`${count(refused)} not taken: look below.`);
  if (offline) parts.push("No network; this page may be older than the job.");
  if (held && rows.length) parts.push(held);
  if (!rows.length && !offline) parts.push("All sent.");
  parts.push(trusted ? "Works offline." : "Keeps answers, can’t reload offline: connection not trusted.");
  if (status.textContent !== parts.join(" ")) status.textContent = parts.join(" ");
  bar.dataset.waiting = String(waiting);
  bar.dataset.refused = String(refused);
  const now = JSON.stringify(rows.map((one) => [one.n, one.refused]));
  if (now === shown) return;
  if (pressed()) return void setTimeout(show, 100); // its own buttons stay under the finger
  list.replaceChildren(...(rows.length ? [table(rows)] : []));
  shown = now;
}

/** @param {Kept[]} rows */
function table(rows) {
  const box = made("details", "", { open: rows.some((one) => one.refused) }), items = made("ul", "", { className: "kept" });
  box.append(made("summary", "What is kept on this device"), items);
  for (const one of rows) {
    const item = made("li", ""), n = /** @type {number} */ (one.n), job = one.action.split("/").slice(0, 3).join("/");
    item.append(made("span", `${one.words} (${new Date(one.at).toTimeString().slice(0, 5)}). ${one.refused ? `Not taken: ${one.refused}` : "Waiting."}`));
    if (one.photo) {
      const there = URL.createObjectURL(one.photo);
      item.append(made("img", "", { src: there, alt: "The photo that is kept", width: 120 }));
      item.append(made("a", "Save the photo", { href: there, download: "drypark-photo.jpg", className: "tap button" }));
    }
    item.append(made("a", "Open the job", { href: one.go ?? job, className: "tap button" }));
    if (one.refused) {
      item.append(made("button", "Send again", { type: "button", onclick: () => keep({ ...one, refused: undefined }).then(flush) }));
    }
    item.append(made("button", one.refused ? "Throw away" : "Take back", { type: "button", onclick: () => release(n) }));
    items.append(item);
  }
  const file = URL.createObjectURL(new Blob([JSON.stringify(rows, null, 1)], { type: "application/json" }));
  box.append(made("a", "Save as a file (JSON)", { href: file, download: "drypark-answers.json", className: "tap button" }));
  return box;
}

/** Let go of an answer that is not sent: its form can be tapped again.
 * @param {number} n */
async function release(n) {
  await drop(n);
  for (const form of /** @type {NodeListOf<HTMLFormElement>} */ (document.querySelectorAll(`form[data-kept="${n}"]`))) {
    delete form.dataset.said;
    form.querySelector("[data-kept-line]")?.remove();
    for (const button of form.querySelectorAll("button[aria-pressed]")) button.setAttribute("aria-pressed", "false");
  }
  await show();
  told?.postMessage("changed");
}

/* The worker, where the connection is trusted. */
async function work() {
  if (!("serviceWorker" in navigator)) return;
  const before = navigator.serviceWorker.controller;
  await navigator.serviceWorker.register("/worker.js");
  const ready = await navigator.serviceWorker.ready;
  trusted = true;
  const links = [...document.querySelectorAll("main a[href^='/jobs/']")].map((link) => new URL(/** @type {HTMLAnchorElement} */ (link).href).pathname);
  const jobs = [...new Set(links.filter((path) => /^\/jobs\/[\w-]+$/.test(path)))].slice(0, 20);
  const here = before ? [] : [location.pathname + location.search]; // else it is kept already
  if (who) ready.active?.postMessage({ keep: [...here, "/", ...jobs] });
}

const again = () => flush().catch(() => undefined);
work().catch(() => undefined).finally(show);
navigator.storage?.persist?.().catch(() => undefined);
told?.addEventListener("message", show);
addEventListener("online", again);
addEventListener("offline", () => { offline = true; show(); });
document.addEventListener("visibilitychange", () => document.hidden || again());
setInterval(() => (offline || Number(bar.dataset.waiting)) && again(), 10000);
again();
