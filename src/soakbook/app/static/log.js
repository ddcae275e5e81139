// The log's forms: an id from this device, times at one press, photos made smaller before they are sent.
const LONGEST_SIDE = 1600;
const SMALL_ENOUGH = 700_000;
const KEPT_TYPES = ["image/jpeg", "image/png", "image/webp"];

/** Also where the page is not from a safe origin. */
function freshId() {
  return Array.from(crypto.getRandomValues(new Uint8Array(16)), (byte) => byte.toString(16).padStart(2, "0")).join("");
}

/** What a form says, without its id. @param {HTMLFormElement} form */
function content(form) {
  const parts = [];
  for (const [name, value] of new FormData(form)) {
    if (name !== "id") parts.push([name, value instanceof File ? `${value.name} ${value.size}` : value]);
  }
  return JSON.stringify(parts);
}

/** The same entry sent again from this device keeps its id; another gets its own. @param {HTMLFormElement} form */
function giveId(form) {
  const field = form.elements.namedItem("id");
  if (!(field instanceof HTMLInputElement) || form.dataset.once === "keep") return;
  const key = `sent ${field.defaultValue}`;
  const now = content(form);
  const before = JSON.parse(sessionStorage.getItem(key) ?? "null");
  field.value = before && before.content === now ? before.id : freshId();
  sessionStorage.setItem(key, JSON.stringify({ content: now, id: field.value }));
}

/** @param {HTMLFormElement} form @param {string} name @param {string} value */
function setField(form, name, value) {
  const field = form.elements.namedItem(name);
  if (field instanceof HTMLInputElement) field.value = value;
}

/** @param {File} file @returns {Promise<File>} */
async function smaller(file) {
  if (file.size <= SMALL_ENOUGH && KEPT_TYPES.includes(file.type)) return file;
  try {
    const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
    const scale = Math.min(1, LONGEST_SIDE / Math.max(picture.width, picture.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.round(picture.width * scale);
    canvas.height = Math.round(picture.height * scale);
    canvas.getContext("2d")?.drawImage(picture, 0, 0, canvas.width, canvas.height);
    picture.close();
    const blob = await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.85));
    const name = file.name.replace(/\.[^.]*$/, "") + ".jpg";
    return blob && (blob.size < file.size || !KEPT_TYPES.includes(file.type)) ? new File([blob], name, { type: "image/jpeg" }) : file;
  } catch {
    return file; // not a picture this browser reads: the server says what it makes of it
  }
}

/** @param {HTMLInputElement} input */
async function shrink(input) {
  const all = new DataTransfer();
  for (const file of input.files ?? []) all.items.add(await smaller(file));
  input.files = all.files;
}

/** A form that was kept on this device knows nothing of the place in the address. @param {HTMLFormElement} form */
function choosePlace(form) {
  const field = form.elements.namedItem("place");
  const place = new URLSearchParams(location.search).get("place");
  if (field instanceof HTMLSelectElement && place && !field.value) field.value = place;
}

/** What the hand feels, in the soil of the chosen place only. @param {HTMLFormElement} form */
function showSoil(form) {
  const field = form.elements.namedItem("place");
  const place = field instanceof HTMLSelectElement ? field.value : "";
  /** @type {(css: string, isOver: (own: boolean) => boolean) => void} */
  const hide = (css, isOver) => {
    for (const part of /** @type {NodeListOf<HTMLElement>} */ (form.querySelectorAll(css))) {
      part.hidden = isOver((part.dataset.feelOf ?? part.dataset.soilOf ?? "").split(" ").includes(place));
    }
  };
  hide("[data-feel-of]", (own) => place !== "" && !own);
  hide("[data-soil-of]", (own) => !own);
  hide("[data-soil-named]", () => place !== "");
}

for (const form of /** @type {NodeListOf<HTMLFormElement>} */ (document.querySelectorAll("form[data-once]"))) {
  choosePlace(form);
  showSoil(form);
  form.addEventListener("change", () => showSoil(form));
  /** @type {Promise<void>} */
  let shrinking = Promise.resolve();
  let pending = 0;
  let isSent = false;
  for (const input of /** @type {NodeListOf<HTMLInputElement>} */ (form.querySelectorAll('input[type="file"]'))) {
    input.addEventListener("change", () => {
      pending += 1;
      shrinking = shrinking.then(() => shrink(input)).finally(() => (pending -= 1));
    });
  }
  form.addEventListener("submit", async (event) => {
    if (isSent) {
      event.preventDefault();
      return;
    }
    if (pending) {
      event.preventDefault();
      await shrinking;
      form.requestSubmit();
      return;
    }
    giveId(form);
    isSent = true;
  });
  addEventListener("pageshow", () => (isSent = false));
  for (const link of /** @type {NodeListOf<HTMLAnchorElement>} */ (form.querySelectorAll("a[data-on]"))) {
    link.addEventListener("click", (event) => {
      event.preventDefault();
      setField(form, "on", link.dataset.on ?? "");
      setField(form, "at", link.dataset.at ?? ""); // both empty for now: the server takes its own time
    });
  }
}
