// A weather file looked at: the answer comes below the form, so that the file stays chosen for the CSV buttons.
const form = /** @type {HTMLFormElement} */ (document.getElementById("weather-file"));
const made = /** @type {HTMLElement} */ (document.getElementById("made"));

form.addEventListener("submit", async (event) => {
  const button = /** @type {HTMLButtonElement | null} */ (event.submitter);
  if (button?.hasAttribute("formaction")) return;
  event.preventDefault();
  made.setAttribute("aria-busy", "true");
  try {
    const answer = await fetch(form.action, { method: "POST", body: new FormData(form), headers: { accept: "text/html" } });
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const fresh = page.getElementById("made");
    if (!answer.ok || !fresh) return form.submit(); // messages beside their fields
    for (const message of form.querySelectorAll(".wrong")) message.remove();
    for (const field of form.querySelectorAll("[aria-invalid]")) {
      field.removeAttribute("aria-invalid");
      field.removeAttribute("aria-describedby");
    }
    fresh.querySelector(".again")?.remove();
    made.replaceChildren(...fresh.childNodes);
    made.focus();
  } catch {
    form.submit();
  } finally {
    made.removeAttribute("aria-busy");
  }
});
