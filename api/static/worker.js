// Pages can be had without network. The server puts build and shell in; nothing else is kept.
// @ts-check
const BUILD = "build", SHELL = ["shell"];
const shell = `shell-${BUILD}`, LIMIT = 4000, MOST = 60, FRESH = 300000;
let lame = 0; // until then the network is not waited for: a page was just had without it
const ours = /^\/(?:keys|jobs\/[\w-]+(?:\/(?:write-up|history|why))?)?$/;
/** @param {string} person */
const pagesOf = (person) => `pages-${BUILD}-${person}`;
const self_ = /** @type {any} */ (self);

self_.addEventListener("install", (/** @type {any} */ event) => {
  event.waitUntil(caches.open(shell).then((kept) => kept.addAll(SHELL)).then(() => self_.skipWaiting()));
});
self_.addEventListener("activate", (/** @type {any} */ event) => {
  const old = async () => { for (const name of await caches.keys()) if (!name.includes(`-${BUILD}`)) await caches.delete(name); };
  event.waitUntil(old().then(() => self_.clients.claim()));
});
self_.addEventListener("message", (/** @type {any} */ event) => {
  const each = async () => {
    for (const path of event.data?.keep ?? []) {
      if (!ours.test(path.split("?")[0]) || await isFresh(path)) continue;
      const answer = await fetch(path, { headers: { Accept: "text/html" } }).catch(() => null);
      if (answer?.ok) await keepPage(path, answer);
    }
  };
  event.waitUntil(each());
});
self_.addEventListener("fetch", (/** @type {any} */ event) => {
  const { request } = event, url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== location.origin) return;
  if (url.pathname.startsWith("/static/")) event.respondWith(part(request));
  else if (request.mode === "navigate") event.respondWith(page(event, url));
});

/** @param {any} event
 * @param {URL} url */
async function page(event, url) {
  const answer = await networkFirst(event.request, () => keptPage(url));
  if (answer.ok && !answer.redirected && answer.type === "basic" && !answer.headers.has("x-kept")) {
    event.waitUntil(keepPage(url.pathname + url.search, answer.clone()));
  }
  return answer;
}

/** A style or a script; beside a page that was kept it is the one that was kept with it.
 * @param {Request} request */
async function part(request) {
  const kept = () => caches.match(request, { ignoreSearch: true });
  return (Date.now() < lame ? await kept() : undefined) ?? networkFirst(request, kept);
}

/** The network has four seconds where there is something kept, and all the time where there is not.
 * @param {Request} request
 * @param {() => Promise<Response | undefined>} otherwise */
async function networkFirst(request, otherwise) {
  const network = fetch(request), slow = new Promise((done) => setTimeout(done, LIMIT, "slow"));
  const first = await Promise.race([network.catch(() => "gone"), slow]);
  if (first instanceof Response) return first;
  const kept = await otherwise();
  if (kept) { network.catch(() => undefined); lame = Date.now() + 10000; return kept; }
  return first === "slow" ? network.catch(nothing) : nothing();
}

const nothing = () => new Response(
  "<!doctype html><html lang=en><meta charset=utf-8><meta name=viewport content='width=device-width'><title>No network</title>" +
  "<link rel=stylesheet href=/static/bay.css><main><h1>No network</h1><p>This page is not on this device. What you wrote down is kept." +
  "<p><a class='tap button' href='/'>To the board</a></main>",
  { status: 503, headers: { "Content-Type": "text/html; charset=utf-8", "x-kept": "none" } });

/** A page is kept for the person it was made for; the pages of anybody else go.
 * @param {string} path
 * @param {Response} answer */
async function keepPage(path, answer) {
  const text = await answer.text();
  const person = /<html[^>]* data-person="([\w-]*)"/.exec(text)?.[1];
  if (person === undefined) return;
  for (const name of await caches.keys()) if (name.startsWith("pages-") && name !== pagesOf(person)) await caches.delete(name);
  if (!person || !ours.test(path.split("?")[0])) return;
  const kept = await caches.open(pagesOf(person)), headers = new Headers(answer.headers);
  const making = /<body[^>]* data-making/.test(text); // a list that was not ready is fetched again
  headers.set("x-kept", String(making ? 0 : Date.now()));
  await kept.put(path, new Response(text, { headers }));
  for (const old of (await kept.keys()).slice(0, -MOST)) await kept.delete(old);
}

/** A page that was kept some minutes ago is not asked for again: the server has better things to do.
 * @param {string} path */
async function isFresh(path) {
  const name = (await caches.keys()).find((one) => one.startsWith(`pages-${BUILD}-`));
  const kept = name ? await (await caches.open(name)).match(path) : null;
  return Date.now() - Number(kept?.headers.get("x-kept") ?? 0) < FRESH;
}

/** @param {URL} url */
async function keptPage(url) {
  const name = (await caches.keys()).find((one) => one.startsWith(`pages-${BUILD}-`));
  const kept = name ? await caches.open(name) : null;
  return (await kept?.match(url.pathname + url.search)) ?? kept?.match(url.pathname, { ignoreSearch: true });
}
