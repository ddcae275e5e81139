// The first answer: names suggested while typing, the device's position, messages beside their fields, the answer in sight.
const form = /** @type {HTMLFormElement} */ (document.getElementById("ask"));
const answer = /** @type {HTMLElement} */ (document.getElementById("answer"));
const peek = /** @type {HTMLAnchorElement} */ (document.getElementById("ask-peek"));
const status = /** @type {HTMLElement} */ (document.getElementById("ask-status"));

/** Suggestions for a field from one of our addresses. @param {string} name @param {string} list */
function suggest(name, list) {
  const field = /** @type {HTMLInputElement} */ (form.elements.namedItem(name));
  const options = /** @type {HTMLElement} */ (document.getElementById(list));
  let asked = "";
  field.addEventListener("input", async () => {
    const text = field.value.trim();
    if (text.length < 2 || text === asked) return;
    asked = text;
    const got = await fetch(`/ask/${list}?${new URLSearchParams({ q: text })}`).then((r) => (r.ok ? r.json() : null), () => null);
    if (!got || text !== asked) return;
    options.replaceChildren(...got[list].map((/** @type {{name: string, also: string}} */ one) => new Option(one.also, one.name)));
  });
}
suggest("where", "towns");
suggest("plant", "plants");

const here = /** @type {HTMLButtonElement} */ (document.getElementById("here"));
const said = /** @type {HTMLElement} */ (document.getElementById("here-said"));
here.hidden = !("geolocation" in navigator) || !window.isSecureContext;
here.addEventListener("click", () => {
  said.textContent = said.dataset.asking ?? "";
  navigator.geolocation.getCurrentPosition(
    ({ coords }) => {
      const field = /** @type {HTMLInputElement} */ (form.elements.namedItem("where"));
      field.value = `${coords.latitude.toFixed(2)}, ${coords.longitude.toFixed(2)}`; // to about a kilometre: enough for weather
      said.textContent = "";
      field.dispatchEvent(new Event("input", { bubbles: true }));
    },
    () => { said.textContent = said.dataset.no ?? ""; },
    { maximumAge: 600000, timeout: 15000 },
  );
});

/** What is wrong, beside the field it is about; the one being typed in is left in peace. */
function place() {
  for (const old of form.querySelectorAll(".wrong[data-live-wrong], .wrong[id^='f-']")) old.remove();
  for (const field of form.querySelectorAll("[aria-invalid]")) {
    field.removeAttribute("aria-invalid");
    field.removeAttribute("aria-describedby");
  }
  for (const one of answer.querySelectorAll("[data-for]")) {
    const field = document.getElementById(`f-${/** @type {HTMLElement} */ (one).dataset.for}`);
    if (!field || field === document.activeElement) continue;
    const text = document.createElement("p");
    text.className = "wrong";
    text.id = `${field.id}-wrong`;
    text.dataset.liveWrong = "";
    text.textContent = one.textContent;
    field.closest(".field")?.append(text);
    field.setAttribute("aria-invalid", "true");
    field.setAttribute("aria-describedby", text.id);
  }
}

/** The answer in one line, at hand while it is out of sight. */
function say() {
  const parts = [...(answer.querySelector(".today-line")?.children ?? [])];
  const line = parts.map((part) => part.textContent?.replace(/\s+/g, " ").trim()).join(" · ");
  peek.textContent = line;
  peek.hidden = !line || seen;
  if (status.textContent !== line) status.textContent = line;
}
let seen = false;
new IntersectionObserver(([entry]) => { seen = entry.isIntersecting; say(); }, { rootMargin: "0px 0px -40% 0px" }).observe(answer);
new MutationObserver(() => { place(); say(); }).observe(answer, { childList: true });
