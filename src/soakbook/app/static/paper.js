// The button that prints. Without script the browser's own menu does.
const button = document.getElementById("print");
const hint = document.getElementById("print-hint");
if (button && hint) {
  hint.hidden = true;
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}
