// Makes the house's forms bear a weak wireless. A form that carries `data-queue` (what it is about, in words) is sent without
// leaving the page; when the wireless fails, it waits in the browser and its stop says so. Forms without it need a live answer:
// hands in an enclosure, threats, incidents. Without this script every form works as forms do.

import { add, all, full, wipe } from "/static/waiting-store.js";
import { ask, hour, send, whenPossible } from "/static/waiting-send.js";

const member = document.querySelector("meta[name=member]")?.content ?? "";
const memberName = document.querySelector("meta[name=member]")?.dataset.name ?? "";
/** Answers that say "not now": nothing was saved, and what was typed stays. */
const BUSY = [408, 429, 502, 503, 504];

let waiting = [];

function make(kind, text, className = "") {
  const element = document.createElement(kind);
  element.textContent = text;
  element.className = className;
  return element;
}

// The bar, always in sight while something waits, and the word on what was said last.

function bar() {
  const known = document.getElementById("waiting");
  if (known) {
    return known;
  }
  const made = make("aside", "", "waiting-bar");
  made.id = "waiting";
  made.setAttribute("aria-label", "Waiting to send");
  made.append(make("p", "", "waiting-count"), make("p", "", "waiting-why"));
  made.firstChild.setAttribute("role", "status");
  document.body.append(made);
  return made;
}

function showBar(why) {
  const [count, reason] = bar().children;
  count.textContent = waiting.length > 0 ? `Waiting to send (${waiting.length})` : "";
  reason.textContent = why;
  bar().hidden = waiting.length === 0 && why === "";
}

function notice(words, warning) {
  const main = document.getElementById("main");
  const said = make("p", words, warning ? "flash warning" : "flash");
  said.setAttribute("role", "status");
  said.dataset.told = "";
  main.querySelector("[data-told]")?.remove();
  main.prepend(said);
  said.scrollIntoView({ block: "nearest" });
}

// Stops that wait look unlike those that are done, and can't be signed twice.

function formsOf(path) {
  return [...document.querySelectorAll("form[data-queue]")].filter((form) => new URL(form.action).pathname === path);
}

// A batch that waits holds the stops that it lists, and a stop that waits leaves the batch that lists it: neither is signed twice.
function stopsOf(item) {
  const fields = new URLSearchParams(item.fields);
  const listed = fields.has("shelf") ? [] : fields.getAll("duty").filter((id) => fields.get(`outcome-${id}`) !== "leave");
  return listed.flatMap((id) => formsOf(`/round/duties/${id}`));
}

function leaveBatches(item) {
  const id = /^\/round\/duties\/(\d+)/.exec(item.path)?.[1];
  if (id !== undefined) {
    document.querySelectorAll(`form[data-queue] input[name=duty][value="${id}"]`).forEach((listed) => (listed.closest(".vial") ?? listed).remove());
  }
}

// The vials of a batch that were signed by themselves, one alone or those of one shelf; none when all of it was.
function vialsOf(item) {
  const fields = new URLSearchParams(item.fields);
  const [only, shelf] = [fields.get("only"), fields.get("shelf")];
  if (only === null && shelf === null) {
    return null;
  }
  const meant = (vial) => (only === null ? vial.dataset.shelf === shelf : vial.id === `duty-${only}`);
  const listed = fields.getAll("duty").filter((id) => fields.get(`outcome-${id}`) !== "leave");
  const vials = listed.map((id) => document.getElementById(`duty-${id}`));
  return vials.filter((vial) => vial?.matches(".vial") && meant(vial));
}

function waitsMark(item) {
  const mark = make("p", `Waiting to send: ${item.label}, ${hour(item.madeAt)}. It is not written yet.`, "waits-mark");
  mark.dataset.waitsMark = item.once;
  return mark;
}

function markOne(item) {
  leaveBatches(item);
  const vials = vialsOf(item);
  if (vials !== null) {
    vials[0]?.before(waitsMark(item));
    vials.forEach((vial) => vial.remove());
    return;
  }
  for (const form of [...formsOf(item.path), ...stopsOf(item)]) {
    const stop = form.closest(".duty, .batch") ?? form;
    if (form.dataset.waits === item.once) {
      continue;
    }
    form.dataset.waits = item.once;
    form.hidden = true;
    form.before(waitsMark(item));
    stop?.classList.add("waits");
  }
}

function unmark(item, words) {
  for (const mark of document.querySelectorAll(`[data-waits-mark="${CSS.escape(item.once)}"]`)) {
    mark.textContent = words;
    mark.closest(".waits")?.classList.remove("waits");
  }
}

async function refresh(why = "") {
  waiting = await all();
  waiting.forEach(markOne);
  showBar(why);
}

// Sending what waits.

function typing() {
  const here = document.activeElement;
  return here !== null && here.matches("main input:not([type=hidden]), main select, main textarea");
}

let sending = Promise.resolve();

// One after the other: two at once in one tab would have the later one find nothing to do.
function replay() {
  sending = sending.then(replayNow, replayNow);
  return sending;
}

async function replayNow() {
  const told = await send();
  for (const { item, words } of told.said) {
    unmark(item, words);
  }
  await refresh(told.left.length > 0 ? told.why : "");
  if (told.said.length === 0) {
    return told.left.length === 0;
  }
  const refused = told.said.filter((answer) => answer.state === "refused");
  if (location.pathname === "/round" && !typing()) {
    await swapFrom(await ask("/round"));
  }
  const sent = told.said.length - refused.length;
  const lines = [`${sent} of what waited ${sent === 1 ? "is" : "are"} written.`, ...refused.map(({ item, words }) => `${item.label} is not written: ${words}`)];
  notice(lines.join(" ") + (refused.length > 0 ? " It is kept under “Not written” until you settle it." : ""), refused.length > 0);
  return told.left.length === 0;
}

// The shell without a wireless wears the colours of the last page.
function keepTheme() {
  localStorage.setItem("theme", document.documentElement.dataset.theme ?? "auto");
}

// Showing an answer in the place of the page, as a visit to it would.

async function swapFrom(answer, after = []) {
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  if (answer.ok || answer.redirected) {
    history.replaceState(null, "", answer.url);
  }
  document.title = page.title;
  document.documentElement.dataset.theme = page.documentElement.dataset.theme ?? "auto";
  keepTheme();
  const opened = [...document.querySelectorAll("form.batch:has(details[open])")].map((form) => form.id);
  document.body.replaceWith(document.adoptNode(page.body));
  opened.forEach((id) => document.getElementById(id)?.querySelector("details")?.setAttribute("open", ""));
  await refresh();
  const next = after.map((id) => document.getElementById(id)).find((stop) => stop !== null);
  const mistakes = document.getElementById("mistakes");
  const target = mistakes ?? next ?? document.getElementById("main");
  target?.focus({ preventScroll: true });
  target?.scrollIntoView({ block: "start" });
}

// The stops that follow a form on the page: the first that still stands after the answer is where the round goes on.
function following(form) {
  const stops = [...document.querySelectorAll(".duty[id], .vial[id]")];
  const behind = stops.filter((stop) => form.compareDocumentPosition(stop) & Node.DOCUMENT_POSITION_FOLLOWING);
  return behind.filter((stop) => !stop.contains(form)).map((stop) => stop.id);
}

function freshKey() {
  return [...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

// What an entry that waits is about, in words.
function labelOf(form, button) {
  if (button?.name === "only") {
    const chosen = form.querySelector(`input[name="outcome-${button.value}"]:checked`);
    return `${button.dataset.queue}: ${chosen?.closest("label").textContent.trim() ?? "nothing chosen"}`;
  }
  const said = button?.textContent.trim() ?? "";
  return said === "" ? form.dataset.queue : `${form.dataset.queue}: ${said}`;
}

function fieldsOf(form, button) {
  const data = new FormData(form, button);
  // Part of a form has a key of its own: another part of it may follow.
  const isPart = button?.name === "only" || button?.name === "shelf";
  const once = isPart ? freshKey() : data.get("once");
  const csrf = data.get("csrf");
  data.delete("once");
  data.delete("csrf");
  return { once, csrf, fields: new URLSearchParams(data).toString() };
}

async function keep(form, button, fields, once) {
  const reason = full(waiting, Date.now());
  if (reason !== "") {
    notice(`${reason} So this can't wait too, and it is NOT saved. Find the wireless, and send it then.`, true);
    return;
  }
  const item = {
    member,
    name: memberName,
    path: new URL(form.action).pathname,
    fields,
    once,
    label: labelOf(form, button),
    madeAt: new Date().toISOString(),
  };
  try {
    await add(item);
  } catch {
    notice("This browser can't keep what waits, so this is NOT saved. Find the wireless, and send it then.", true);
    return;
  }
  const next = following(button?.closest(".vial") ?? form).find((id) => !document.getElementById(id).classList.contains("waits"));
  await refresh("There is no wireless. It is sent, in order, as soon as there is.");
  document.getElementById(next)?.scrollIntoView({ block: "start" });
}

async function submit(form, button) {
  const { once, csrf, fields } = fieldsOf(form, button);
  const after = following(button?.closest(".vial") ?? form);
  form.dataset.busy = "";
  try {
    // What waited goes first: the book takes things in the order in which they were done.
    if (waiting.some((item) => item.member === member) && !(await replay())) {
      await keep(form, button, fields, once);
      return;
    }
    let answer;
    try {
      const body = new URLSearchParams(fields);
      body.set("csrf", csrf);
      body.set("once", once);
      answer = await ask(form.action, { method: "POST", body });
    } catch {
      await keep(form, button, fields, once);
      return;
    }
    if (BUSY.includes(answer.status)) {
      notice("The house is busy: this is not saved yet. Send it again in a moment.", true);
      return;
    }
    await swapFrom(answer, after);
  } finally {
    delete form.dataset.busy;
  }
}

// Forms.

function needsLiveAnswer(form, button) {
  return form.dataset.queue === undefined || (button?.name === "outcome" && button.value === "threat");
}

function refuseOffline(button) {
  const threat = button?.value === "threat" ? " A threat sets holds that others rely on: tell them now, by voice." : "";
  notice(`There is no wireless, and this needs a live answer, so it can't wait here. It is NOT saved; what you typed stays.${threat}`, true);
}

async function signOut(form) {
  try {
    await ask("/round/queue", { redirect: "manual" });
  } catch {
    notice("There is no wireless, so you can't be signed out now. What waits is kept.", true);
    return;
  }
  await replay();
  const left = waiting.length;
  const wait = left === 1 ? "1 sign-off waits here and is not written" : `${left} sign-offs wait here and are not written`;
  if (left > 0 && !window.confirm(`${wait}. Signing out throws away what waits. Sign out all the same?`)) {
    return;
  }
  await wipe();
  form.submit();
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  const button = event.submitter;
  if (form.method !== "post" || event.defaultPrevented) {
    return;
  }
  if (form.dataset.busy !== undefined) {
    event.preventDefault();
  } else if (form.getAttribute("action") === "/sign-out" && waiting.length > 0) {
    event.preventDefault();
    signOut(form);
  } else if (!needsLiveAnswer(form, button)) {
    event.preventDefault();
    submit(form, button);
  } else if (!navigator.onLine) {
    event.preventDefault();
    refuseOffline(button);
  }
});

keepTheme();
navigator.serviceWorker?.register("/service-worker.js");
whenPossible(async () => {
  await refresh();
  if (waiting.length > 0) {
    await replay();
  }
});
