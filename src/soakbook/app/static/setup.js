// Walking order by dragging the handle, with finger or mouse. Without script there are the arrows.
const list = document.querySelector("[data-order]");
const form = /** @type {HTMLFormElement | null} */ (document.querySelector(".order-form"));
if (list instanceof HTMLElement && form && list.children.length > 1) {
  for (const hint of document.querySelectorAll(".with-script")) hint.removeAttribute("hidden");
  for (const handle of list.querySelectorAll(".handle")) {
    handle.removeAttribute("hidden");
    handle.addEventListener("pointerdown", (event) => start(/** @type {PointerEvent} */ (event), list, form));
  }
}

/** @param {PointerEvent} event @param {HTMLElement} list @param {HTMLFormElement} form */
function start(event, list, form) {
  const handle = /** @type {HTMLElement} */ (event.currentTarget);
  const card = /** @type {HTMLElement} */ (handle.closest("[data-place]"));
  const before = order(list);
  event.preventDefault();
  card.classList.add("is-dragged");

  /** @param {PointerEvent} move */
  const moved = (move) => {
    const others = [...list.children].filter((one) => one !== card);
    const next = others.find((one) => {
      const box = one.getBoundingClientRect();
      return move.clientY < box.top + box.height / 2;
    });
    if (next !== card.nextElementSibling) list.insertBefore(card, next ?? null);
    const edge = 60;
    if (move.clientY < edge) window.scrollBy(0, -12);
    if (move.clientY > window.innerHeight - edge) window.scrollBy(0, 12);
  };
  const ended = () => {
    for (const [name, what] of /** @type {[string, any][]} */ (listeners)) window.removeEventListener(name, what);
    card.classList.remove("is-dragged");
    if (order(list) === before) return;
    const field = form.elements.namedItem("order");
    if (field instanceof HTMLInputElement) field.value = order(list);
    form.submit();
  };
  // On the window: a card that is moved in the page would let go of the pointer.
  const listeners = [["pointermove", moved], ["pointerup", ended], ["pointercancel", ended]];
  for (const [name, what] of /** @type {[string, any][]} */ (listeners)) window.addEventListener(name, what);
}

/** @param {HTMLElement} list */
function order(list) {
  return [...list.children].map((one) => /** @type {HTMLElement} */ (one).dataset.place).join(",");
}
