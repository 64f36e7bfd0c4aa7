// The shell that stands in for a page without a wireless: shows what waits and why, and sends it once the house answers.

import { all } from "/static/waiting-store.js";
import { hour, send, whenPossible } from "/static/waiting-send.js";

const words = document.getElementById("waiting-words");
const list = document.getElementById("waiting-list");
const button = document.getElementById("waiting-send");

function line(text) {
  const entry = document.createElement("li");
  entry.textContent = text;
  return entry;
}

function show(items, why, said) {
  const waits = items.map((item) => line(`${item.label}, ${hour(item.madeAt)}: waiting to send`));
  list.replaceChildren(...said.map((told) => line(`${told.item.label}: ${told.words}`)), ...waits);
  words.textContent = items.length === 0 ? "Nothing waits." : `Waiting to send (${items.length}). ${why}`;
  button.hidden = items.length === 0;
}

const told = [];

async function tryIt() {
  const result = await send();
  told.push(...result.said);
  show(result.left, result.why, told);
}

// The colours of the last page that was open here: a white page would startle the animals.
document.documentElement.dataset.theme = localStorage.getItem("theme") ?? "auto";
button.addEventListener("click", tryIt);
all().then((items) => show(items, "", told)).then(() => whenPossible(tryIt));
