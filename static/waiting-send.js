// Sends what waits: strictly in order, one at a time, only while the member who made it is signed in, and each at most once
// (the form's own one-time key goes along). Whatever the house answers is final: it keeps by itself what it could not write.

import { all, remove } from "/static/waiting-store.js";

const QUEUE = "/round/queue";
/** A request that takes longer than this has failed: its one-time key makes a second try safe. */
export const PATIENCE_MS = 10000;

/** Fetches with patience; what fails on the way throws. */
export function ask(address, options = {}) {
  return fetch(address, { cache: "no-store", credentials: "same-origin", signal: AbortSignal.timeout(PATIENCE_MS), ...options });
}

// Who is signed in on this browser, with the token of their forms as it is now.
async function known() {
  const answer = await ask(QUEUE, { redirect: "manual" });
  if (answer.type === "opaqueredirect") {
    return null;
  }
  if (!answer.ok) {
    throw new Error(`the house answered ${answer.status}`);
  }
  return answer.json();
}

// How far the house's clock is from this one, in milliseconds; small differences are left alone. It is taken once for all that
// is sent together, so that their order in time stays.
function differenceOf(houseNow) {
  const difference = Date.parse(houseNow) - Date.now();
  return Math.abs(difference) > 60000 ? difference : 0;
}

async function sendOne(item, token, difference) {
  const told = (instant) => new Date(instant + difference).toISOString();
  const body = new URLSearchParams({
    csrf: token,
    once: item.once,
    path: item.path,
    fields: item.fields,
    label: item.label,
    made_at: told(Date.parse(item.madeAt)),
    sent_at: told(Date.now()),
  });
  const answer = await ask(QUEUE, { method: "POST", body, redirect: "manual" });
  // Signed out meanwhile, a role that was taken away, a house that is busy: it goes on waiting.
  if (answer.type === "opaqueredirect" || !answer.ok) {
    throw new Error(`the house answered ${answer.status}`);
  }
  return answer.json();
}

async function sendAll() {
  const told = { said: [], left: await all(), why: "" };
  if (told.left.length === 0) {
    return told;
  }
  try {
    const me = await known();
    const first = told.left[0];
    if (me === null) {
      told.why = `Sign in as ${first.name} to send what waits.`;
      return told;
    }
    const difference = differenceOf(me.now);
    while (told.left.length > 0) {
      const item = told.left[0];
      if (item.member !== String(me.member)) {
        told.why = `What waits is ${item.name}'s, and ${me.name} is signed in. Only ${item.name} can send it.`;
        return told;
      }
      const answer = await sendOne(item, me.token, difference);
      await remove(item.id);
      told.left.shift();
      told.said.push({ item, state: answer.state, words: answer.words });
    }
  } catch {
    told.why = "There is no wireless, or the house does not answer. It is tried again every half minute.";
  }
  return told;
}

/**
 * Sends what waits, unless another tab is at it. Gives what the house said to each, what is left, and why.
 */
export async function send() {
  if (!navigator.locks) {
    return sendAll();
  }
  return navigator.locks.request("silkward-waiting", { ifAvailable: true }, async (lock) =>
    lock ? sendAll() : { said: [], left: await all(), why: "Another tab of this browser is sending." },
  );
}

/** Does something now, whenever the wireless comes back, and every half minute. */
export function whenPossible(work) {
  window.addEventListener("online", work);
  setInterval(work, 30000);
  return work();
}

/** `21:14` */
export function hour(instant) {
  return new Date(instant).toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });
}
