// The list of what is written down in this file. It asks the network for nothing.
"use strict";
const data = JSON.parse(document.getElementById("data").textContent);
const words = data.words;
const key = `soakbook-list-${data.garden}-${data.on}`;
const list = document.getElementById("list");
document.documentElement.classList.add("with-script");

let entries = [];
let canKeep = true;
try {
  const kept = JSON.parse(localStorage.getItem(key) ?? "[]");
  if (Array.isArray(kept)) entries = kept;
  localStorage.setItem(key, JSON.stringify(entries));
} catch {
  canKeep = false;
}

function keep() {
  if (canKeep) {
    try {
      localStorage.setItem(key, JSON.stringify(entries));
    } catch {
      canKeep = false;
    }
  }
  document.getElementById("unkept").hidden = canKeep;
}

function newId() {
  return [...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

/** Date and time in the garden, such as 2026-06-01T07:30. */
function gardenTime() {
  const parts = {};
  try {
    const format = new Intl.DateTimeFormat("en-CA", {
      timeZone: data.zone, hourCycle: "h23", year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit",
    });
    for (const part of format.formatToParts(new Date())) parts[part.type] = part.value;
  } catch {
    const here = new Date();
    const two = (n) => String(n).padStart(2, "0");
    Object.assign(parts, { year: here.getFullYear(), month: two(here.getMonth() + 1), day: two(here.getDate()), hour: two(here.getHours()), minute: two(here.getMinutes()) });
  }
  const day = data.held || `${parts.year}-${parts.month}-${parts.day}`;
  return `${day}T${parts.hour}:${parts.minute}`;
}

function add(entry) {
  entries.push({ id: newId(), at: gardenTime(), kind: "", place: "", place_name: "", amount: "", text: "", ...entry });
  keep();
  show();
}

/** A number as it is typed, with a point; empty when it is none. */
function numberOf(text) {
  const plain = text.trim().replace(",", ".");
  return /^\d{1,6}(\.\d{1,3})?$/.test(plain) && Number(plain) > 0 ? plain : "";
}

function says(entry) {
  const shown = entry.unit_words ? `${entry.amount.split(" ")[0]} ${entry.unit_words}` : entry.amount;
  const what = entry.kind === "reading" ? words[entry.amount] : entry.kind === "note" ? entry.text : `${words[entry.kind]} ${shown}`;
  return `${entry.at.slice(11)} ${entry.place_name ? entry.place_name + ": " : ""}${what}`;
}

function line(entry) {
  const item = document.createElement("li");
  item.className = "row";
  const text = document.createElement("span");
  text.textContent = says(entry);
  const button = document.createElement("button");
  button.type = "button";
  button.className = "second";
  button.textContent = words.back;
  button.setAttribute("aria-label", `${words.back}: ${says(entry)}`);
  button.addEventListener("click", () => {
    entries = entries.filter((other) => other.id !== entry.id);
    keep();
    show();
    document.getElementById("told").textContent = words.taken;
    document.getElementById("list-head").scrollIntoView({ block: "nearest" });
  });
  item.append(text, button);
  return item;
}

/** What a job has become by what was written down for its place. */
function stateOf(job) {
  const mine = entries.filter((entry) => entry.place === job.dataset.place);
  const felt = mine.filter((entry) => entry.kind === "reading").at(-1)?.amount;
  const given = mine.filter((entry) => entry.kind === "water").reduce((sum, entry) => sum + (entry.litres ?? 0), 0);
  const sign = job.dataset.sign;
  const asked = Number(job.dataset.litres);
  if (given > 0 && (sign === "probe" && felt !== "dry" || given >= 0.9 * asked)) return "done";
  if (given > 0) return "left";
  if (sign === "probe" && felt === "dry") return "soak";
  if ((sign === "probe" && felt) || (sign === "soak" && felt === "wet")) return "hold";
  return "";
}

function show() {
  list.replaceChildren(...entries.map(line));
  document.getElementById("count").textContent = String(entries.length);
  document.getElementById("none").hidden = entries.length > 0;
  for (const job of document.querySelectorAll("[data-place]")) {
    const state = stateOf(job);
    job.querySelector("[data-state]").textContent = state ? words[state] : "";
    job.classList.toggle("is-done", state === "done");
    job.classList.toggle("is-hold", state === "hold");
  }
  const box = document.getElementById("text-box");
  if (!box.hidden) document.getElementById("text").value = listText();
}

function listText() {
  const plain = entries.map(({ unit_words, litres, ...entry }) => entry);
  const { garden, garden_name, made, by } = data;
  return JSON.stringify({ kind: "soakbook_list", version: 1, garden, garden_name, made, by, entries: plain }, null, 1);
}

for (const job of document.querySelectorAll("[data-place]")) {
  const where = { place: job.dataset.place, place_name: job.dataset.name };
  for (const button of job.querySelectorAll("[data-feel]")) {
    button.addEventListener("click", () => add({ kind: "reading", ...where, amount: button.dataset.feel }));
  }
  job.querySelector("[data-water]").addEventListener("submit", (event) => {
    event.preventDefault();
    const form = event.currentTarget;
    const number = numberOf(form.elements.number.value);
    say(form, number ? "" : words.number);
    if (!number) return;
    const unit = form.elements.unit.selectedOptions[0];
    const litres = Number(number) * Number(unit.dataset.litres);
    add({ kind: "water", ...where, amount: `${number} ${unit.value}`, unit_words: unit.textContent, litres });
  });
}

function say(form, text) {
  const input = form.querySelector("input");
  form.querySelector("[data-wrong]").textContent = text;
  if (text) {
    input.setAttribute("aria-invalid", "true");
    input.focus();
  } else input.removeAttribute("aria-invalid");
}

document.getElementById("rain").addEventListener("submit", (event) => {
  event.preventDefault();
  const form = event.currentTarget;
  const number = numberOf(form.elements.number.value);
  say(form, number ? "" : words.number);
  if (!number) return;
  const unit = form.elements.unit.selectedOptions[0];
  add({ kind: "rain", amount: `${number} ${unit.value}`, unit_words: unit.textContent });
  form.reset();
});
document.getElementById("note").addEventListener("submit", (event) => {
  event.preventDefault();
  const input = event.currentTarget.elements.text;
  const text = input.value.trim().replace(/\s+/g, " ");
  if (!text) return input.focus();
  add({ kind: "note", text });
  event.currentTarget.reset();
});

document.getElementById("save").addEventListener("click", () => {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([listText()], { type: "application/json" }));
  link.download = data.file;
  document.body.append(link);
  link.click();
  link.remove();
  document.getElementById("told").textContent = words.saved;
});
document.getElementById("copy").addEventListener("click", async () => {
  const area = document.getElementById("text");
  document.getElementById("text-box").hidden = false;
  area.value = listText();
  area.focus();
  area.select();
  let copied = false;
  try {
    await navigator.clipboard.writeText(area.value);
    copied = true;
  } catch {
    copied = document.execCommand("copy");
  }
  document.getElementById("told").textContent = copied ? words.copied : words.select;
});

function age() {
  const minutes = Math.max(0, Math.floor((Date.now() - Date.parse(data.made)) / 60000));
  const [word, n] = minutes < 2 ? ["just", 0] : minutes < 120 ? ["minutes", minutes] : minutes < 2880 ? ["hours", Math.floor(minutes / 60)] : ["days", Math.floor(minutes / 1440)];
  document.getElementById("age").textContent = words[word].replace("[n]", n);
  document.getElementById("old").hidden = gardenTime().slice(0, 10) === data.on;
}
age();
setInterval(age, 60000);
keep();
show();
