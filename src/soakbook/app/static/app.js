// What every page has: charts drawn, parts that follow their form, and what works without signal. Every page works without it.
const worker = navigator.serviceWorker;
const stale = document.getElementById("stale");
/** How old a page may be before it says so. [ms] */
const OLD_MS = 3 * 60_000;
/** How soon the pages of places are asked for again after the round has changed. [ms] */
const KEEP_AGAIN_MS = 60_000;

/** @param {ParentNode} root */
export async function wake(root) {
  for (const form of root.querySelectorAll("form[data-live]")) follow(/** @type {HTMLFormElement} */ (form));
  if (root.querySelector("[data-chart]")) {
    const { drawAll } = await import("./charts.js");
    await drawAll(root);
  }
}

/** A form whose answer stands on the same page: the answer follows each change. @param {HTMLFormElement} form */
function follow(form) {
  const target = document.getElementById(form.dataset.live ?? "");
  if (!target) return;
  let timer = 0;
  let latest = 0;
  form.addEventListener("input", () => {
    clearTimeout(timer);
    timer = window.setTimeout(update, 350);
  });
  async function update() {
    const mine = ++latest;
    const query = new URLSearchParams(/** @type {any} */ (new FormData(form)));
    const address = `${form.getAttribute("action") || location.pathname}?${query}`;
    target.setAttribute("aria-busy", "true");
    try {
      const answer = await fetch(address, { headers: { accept: "text/html" } });
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      const fresh = page.getElementById(target.id);
      if (mine !== latest || !fresh) return;
      target.replaceChildren(...fresh.childNodes);
      history.replaceState(null, "", address);
      await wake(target);
    } catch {
      // no signal: the answer stays as it was
    } finally {
      if (mine === latest) target.removeAttribute("aria-busy");
    }
  }
}

/** How old the page's figures are, and what waits to be sent. @param {{key: number, since: number, trouble: string}[]} list */
function sayState(list) {
  if (!stale) return;
  const made = Date.parse(document.documentElement.dataset.made ?? "");
  const said = [];
  if (Date.now() - made > OLD_MS) said.push(`${stale.dataset.old} ${stale.dataset.made}.`);
  const fine = list.filter((one) => !one.trouble).length;
  if (fine) said.push(`${stale.dataset.waiting} ${fine}.`);
  stale.textContent = said.join(" ");
  for (const one of list) if (one.trouble) stale.append(refused(one));
  stale.hidden = stale.childNodes.length === 0;
}

/** An entry that was not taken: why, and a button to leave it out. @param {{key: number, trouble: string}} one */
function refused(one) {
  const line = document.createElement("span");
  const leave = document.createElement("button");
  line.textContent = ` ${stale?.dataset.refused} ${one.trouble} `;
  leave.textContent = stale?.dataset.leave ?? "";
  leave.className = "second";
  leave.addEventListener("click", () => worker.controller?.postMessage({ type: "leave", key: one.key }));
  line.append(leave);
  return line;
}

/** Forms of a page that may have been kept: what they send gets an id of its own, and days since then may be chosen. */
function refreshForms() {
  const passed = Date.now() - Date.parse(document.documentElement.dataset.made ?? "");
  // the log's form keeps its id while it is fresh: gone back to and sent again it counts once
  const forms = passed > OLD_MS ? 'form[action$="/entry"], form[action$="/log/new"]' : 'form[action$="/entry"]';
  for (const form of /** @type {NodeListOf<HTMLFormElement>} */ (document.querySelectorAll(forms))) {
    const [id, on] = ["id", "on"].map((name) => /** @type {HTMLInputElement} */ (form.elements.namedItem(name)));
    id.value = Array.from(crypto.getRandomValues(new Uint8Array(16)), (byte) => byte.toString(16).padStart(2, "0")).join("");
    if (passed > OLD_MS) on.removeAttribute("max");
  }
}

/**
 * Pages that this device should have when there is no signal: every place of the round, the ways to go, and the log's forms. Only when the
 * round is another than when they were last asked for, and not again and again while somebody ticks; or when they are gone.
 */
async function keepPages() {
  const links = [...document.querySelectorAll(".ways a, .job h3 a")];
  const paths = links.map((a) => new URL(/** @type {HTMLAnchorElement} */ (a).href).pathname);
  const name = `kept ${location.pathname}`;
  const stamp = `${document.getElementById("round")?.dataset.stamp} ${document.documentElement.lang}`;
  const last = JSON.parse(localStorage.getItem(name) ?? '{"stamp": "", "at": 0}');
  const place = paths.filter((path) => path.includes("/place/")).pop();
  const isThere = !place || (await caches.match(place, { cacheName: "pages" })) !== undefined;
  if (isThere && (last.stamp === stamp || Math.abs(Date.now() - last.at) < KEEP_AGAIN_MS)) return;
  localStorage.setItem(name, JSON.stringify({ stamp, at: Date.now() }));
  const log = paths.find((path) => path.endsWith("/log"));
  const forms = log ? ["reading", "water", "rain", "note"].map((kind) => `${log}/new?kind=${kind}`) : [];
  worker.controller?.postMessage({ type: "keep", paths: [location.pathname, ...new Set(paths), ...forms] });
}

async function withoutSignal() {
  if (!worker || !window.isSecureContext) return sayState([]);
  worker.addEventListener("message", (event) => {
    if (event.data?.type === "waiting") sayState(event.data.list);
  });
  window.addEventListener("online", () => worker.controller?.postMessage({ type: "send" }));
  try {
    await worker.register("/sw.js", { scope: "/" });
    await worker.ready;
  } catch {
    return sayState([]); // the browser does not allow it here: pages work as before
  }
  sayState([]);
  worker.controller?.postMessage({ type: navigator.onLine ? "send" : "count" });
  if (document.getElementById("round") && navigator.onLine) {
    if (worker.controller) keepPages();
    else worker.addEventListener("controllerchange", keepPages, { once: true });
  }
}

await wake(document);
refreshForms();
await withoutSignal();
