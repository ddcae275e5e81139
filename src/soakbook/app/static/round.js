// The round: fresh ids for what is written down, and a look now and then at what others did.
const round = document.getElementById("round");

/** @param {HTMLFormElement} form */
function freshId(form) {
  const id = form.querySelector('input[name="id"]');
  if (id instanceof HTMLInputElement && form.querySelector('input[name="place"]')) {
    id.value = crypto.getRandomValues(new Uint8Array(16)).reduce((text, byte) => text + byte.toString(16).padStart(2, "0"), "");
  }
}
for (const form of document.querySelectorAll("form[data-entry]")) freshId(/** @type {HTMLFormElement} */ (form));

async function look() {
  if (!round || document.visibilityState !== "visible") return;
  const busy = document.activeElement instanceof HTMLInputElement || document.querySelector("details.more[open]");
  if (busy) return;
  try {
    const answer = await fetch(round.dataset.stampUrl ?? "", { headers: { accept: "application/json" } });
    if (answer.ok && (await answer.json()).stamp !== round.dataset.stamp) location.replace(location.pathname);
  } catch {
    // no signal: the page stays as it is, and says how old it is
  }
}
setInterval(look, 20_000);
document.addEventListener("visibilitychange", look);
