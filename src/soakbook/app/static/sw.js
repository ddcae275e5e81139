// Without signal: pages seen before open from this device, and what is written down waits here until it can be sent.
// FILES (addresses of style and scripts, which change with them) is put before this text by the server.
/* global FILES */
const SHELF = `files-${FILES[0]}`;
const PAGES = "pages";
/** How long a page that was seen before is waited for, and how much longer one that was not. */
const PATIENCE_MS = 6000;
const MORE_PATIENCE_MS = 30_000;
/** Forms that write something down: they may wait. */
const ENTRY = /^\/((g|helper)\/[^/]+\/(done|felt|undo)|g\/[^/]+\/(log\/(new|many)|place\/[^/]+\/(entry|undo)))$/;
/** Pages that may be looked at later. */
const READABLE = /^\/((g|helper)\/[^/]+\/(place\/[^/]+|log|log\/new|weather|season|setup)?\/?|about|offline)$/;
/** Of these only a part may have been asked for. */
const IN_PART = /\/(log|weather|season)$/;
/** A form of which there is one for each kind of entry. */
const FORM = /\/log\/new$/;

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(SHELF).then((shelf) => shelf.addAll([...FILES, "/offline"])).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    for (const name of await caches.keys()) if (name !== SHELF && name !== PAGES) await caches.delete(name);
    await self.clients.claim();
  })());
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== self.location.origin) return;
  if (request.method === "GET" && url.pathname.startsWith("/static/")) event.respondWith(fromShelf(request));
  else if (request.method === "GET" && request.mode === "navigate") event.respondWith(page(event, url));
  else if (request.method === "POST" && ENTRY.test(url.pathname)) event.respondWith(entry(event, url));
});

/** A file under its address or, for a page kept from before an update, the file of that name now. */
async function fromShelf(request) {
  const known = await caches.match(request);
  if (known) return known;
  try {
    return await fetch(request);
  } catch {
    const name = (/** @type {string} */ address) => address.split("/").slice(3).join("/");
    const now = FILES.find((file) => name(file) === name(new URL(request.url).pathname));
    return (now && (await caches.match(now))) || Response.error();
  }
}

/** How often all pages were forgotten: a page that was asked for before that is not put by after it. */
let forgotten = 0;

/** Signed out: others may hold this device. */
function forget() {
  forgotten += 1;
  return caches.delete(PAGES);
}

/** The page as it is now; where there is no signal, or no answer soon, as it was when it was last seen. One never seen is waited for longer. */
async function page(event, url) {
  const before = forgotten;
  const asked = fetch(event.request);
  event.waitUntil(asked.then((answer) => came(answer, url, before), () => undefined));
  try {
    return await soon(asked, PATIENCE_MS);
  } catch {
    const pages = await caches.open(PAGES);
    const known = (await pages.match(keyOf(url))) ?? (url.pathname === "/" ? await lastRound(pages) : undefined);
    return known ?? soon(asked, MORE_PATIENCE_MS).catch(async () => (await caches.match("/offline")) ?? Response.error());
  }
}

/** A page that came is put by, or all are forgotten; and what waits can be sent. */
async function came(answer, url, before) {
  if (!answer.ok) return;
  const isKept = !answer.redirected && isWhole(url) && READABLE.test(url.pathname);
  await Promise.all([
    isKept ? keep(keyOf(url), answer.clone(), before) : undefined,
    url.pathname === "/sign-in" ? forget() : undefined,
    send(),
  ]);
}

/** Whether a page is not a part of one, nor a form that was filled in already. */
function isWhole(url) {
  return FORM.test(url.pathname) ? [...url.searchParams.keys()].every((name) => name === "kind") : !url.search || !IN_PART.test(url.pathname);
}

/** Under what a page is kept. */
function keyOf(url) {
  return FORM.test(url.pathname) ? `${url.pathname}?kind=${url.searchParams.get("kind") ?? "rain"}` : url.pathname;
}

async function lastRound(pages) {
  const keys = await pages.keys();
  const rounds = keys.filter((key) => /^\/g\/[^/]+\/$/.test(new URL(key.url).pathname));
  return rounds.length ? pages.match(rounds[rounds.length - 1]) : undefined;
}

/** Put a page by, unless all were forgotten since it was asked for. */
async function keep(path, answer, before) {
  if (before !== forgotten) return;
  const pages = await caches.open(PAGES); // what is deleted from here on takes this page with it
  if (before === forgotten) await pages.put(path, answer);
}

function soon(promise, most_ms) {
  return Promise.race([promise, new Promise((_, fail) => setTimeout(() => fail(new Error("no answer")), most_ms))]);
}

/** Sent at once, or kept until it can be. */
async function entry(event, url) {
  const copy = event.request.clone();
  try {
    return await fetch(event.request);
  } catch {
    const kind = copy.headers.get("content-type") ?? "";
    await put({ path: url.pathname, kind, body: await copy.arrayBuffer(), since: Date.now(), trouble: "" });
    if (self.registration.sync) await self.registration.sync.register("entries").catch(() => undefined);
    if (event.request.mode !== "navigate") return Response.json({ kind: "waiting" }, { status: 202 });
    const end = url.pathname.lastIndexOf("/"); // the round ends with a stroke, the log and a place do not
    return Response.redirect(url.pathname.slice(0, /\/(log|place)\//.test(url.pathname) ? end : end + 1), 303);
  }
}

self.addEventListener("sync", (event) => {
  if (event.tag === "entries") event.waitUntil(send());
});
self.addEventListener("message", (event) => {
  const { type, paths } = event.data ?? {};
  if (type === "send") event.waitUntil(send().then(tell));
  if (type === "leave") event.waitUntil(drop(event.data.key).then(tell));
  if (type === "count") event.waitUntil(tell());
  if (type === "keep") event.waitUntil(keepAll(paths ?? []));
});

async function keepAll(paths) {
  const before = forgotten;
  for (const path of paths) {
    if (before !== forgotten) return;
    const url = new URL(path, self.location.origin);
    if (!READABLE.test(url.pathname)) continue;
    try {
      const answer = await fetch(path, { headers: { accept: "text/html" } });
      if (answer.ok && !answer.redirected) await keep(keyOf(url), answer, before);
    } catch {
      return; // no signal any more
    }
  }
}

let sending = null;
/** Everything that waits, in the order it was written down. One that is refused stays, with the reason. */
function send() {
  sending ??= sendAll().finally(() => { sending = null; });
  return sending;
}

async function sendAll() {
  for (const one of await all()) {
    if (one.trouble) continue;
    const waited = Math.max(0, Math.round((Date.now() - one.since) / 1000));
    try {
      const answer = await fetch(`${one.path}?waited=${waited}`, {
        method: "POST", body: one.body, headers: { "content-type": one.kind, accept: "application/json" }, redirect: "manual",
      });
      if (answer.type === "opaqueredirect" || answer.ok) await drop(one.key);
      else if (answer.status >= 400 && answer.status < 500 && ![401, 408, 429].includes(answer.status)) {
        const said = await answer.json().catch(() => ({ message: String(answer.status) }));
        await put({ ...one, trouble: `${said.message} ${said.hint ?? ""}`.trim() });
      } else return;
    } catch {
      return; // still no signal
    }
  }
}

async function tell() {
  const waiting = await all();
  const list = waiting.map((one) => ({ key: one.key, since: one.since, trouble: one.trouble }));
  for (const client of await self.clients.matchAll()) client.postMessage({ type: "waiting", list });
}

// What waits, in the device's own small database.
function store() {
  return new Promise((resolve, reject) => {
    const asked = indexedDB.open("soakbook", 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore("entries", { keyPath: "key", autoIncrement: true });
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });
}

async function run(mode, act) {
  const db = await store();
  try {
    return await new Promise((resolve, reject) => {
      const change = db.transaction("entries", mode);
      const asked = act(change.objectStore("entries"));
      change.oncomplete = () => resolve(asked.result);
      change.onerror = () => reject(change.error);
      change.onabort = () => reject(change.error);
    });
  } finally {
    db.close();
  }
}

const put = (one) => run("readwrite", (box) => box.put(one));
const drop = (key) => run("readwrite", (box) => box.delete(key));
const all = () => run("readonly", (box) => box.getAll());
