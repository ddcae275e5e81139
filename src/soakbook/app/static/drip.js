// The cut through the soil, and the bed from above: a slider that shows them look by look while water runs.
const slide = /** @type {HTMLElement} */ (document.getElementById("drip-slide"));
const look = /** @type {HTMLInputElement} */ (document.getElementById("drip-look"));
const frames = document.querySelectorAll("#drip-run .drip-frame");
const words = (look.dataset.looks ?? "").split("|");
const output = /** @type {HTMLOutputElement} */ (slide.querySelector("output"));

function show() {
  const at = Number(look.value);
  frames.forEach((frame) => frame.classList.toggle("shown", Number(frame.getAttribute("data-look")) === at));
  output.textContent = words[at];
  look.setAttribute("aria-valuetext", words[at]);
}

look.addEventListener("input", show);
slide.hidden = false;
show();
