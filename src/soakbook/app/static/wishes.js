// Says in words where each slider stands as it moves; the week beside them follows by what every live form does (app.js).
const form = /** @type {HTMLFormElement | null} */ (document.querySelector("form.wishes"));
if (form) {
  /** @type {string[]} */
  const words = JSON.parse(form.dataset.words ?? "[]");
  form.classList.add("live");
  for (const slider of form.querySelectorAll('input[type="range"]')) {
    slider.addEventListener("input", () => say(/** @type {HTMLInputElement} */ (slider), words));
  }
}

/** @param {HTMLInputElement} slider @param {string[]} words */
function say(slider, words) {
  const text = words[Math.round(Number(slider.value) * 2)] ?? slider.value;
  slider.setAttribute("aria-valuetext", text);
  const stands = slider.parentElement?.querySelector(".stands");
  if (stands) stands.textContent = text;
}
