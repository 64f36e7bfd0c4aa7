// Sign-offs that wait for the wireless, kept in the browser's own database. One record a form:
// { id, member, name, path, fields, once, label, madeAt }. Ids rise, so the order of entry is the order of sending.

const DATABASE = "silkward-waiting";
const STORE = "waiting";

/** At most so many may wait. */
export const MOST = 50;
/** And none for longer than this: then nothing new is taken until it is sent. */
export const LONGEST_MS = 12 * 60 * 60 * 1000;

function open() {
  return new Promise((resolve, reject) => {
    const request = indexedDB.open(DATABASE, 1);
    request.onupgradeneeded = () => request.result.createObjectStore(STORE, { keyPath: "id", autoIncrement: true });
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
    request.onblocked = () => reject(new Error("the browser's database is blocked"));
  });
}

// Runs one piece of work in one transaction and gives its result once the transaction is safely written.
async function within(mode, work) {
  const database = await open();
  try {
    return await new Promise((resolve, reject) => {
      const transaction = database.transaction(STORE, mode, { durability: "strict" });
      const request = work(transaction.objectStore(STORE));
      transaction.oncomplete = () => resolve(request.result);
      transaction.onabort = () => reject(transaction.error);
      transaction.onerror = () => reject(transaction.error);
    });
  } finally {
    database.close();
  }
}

/** Everything that waits, oldest first. */
export function all() {
  return within("readonly", (store) => store.getAll());
}

/** Keeps one more. */
export function add(item) {
  return within("readwrite", (store) => store.add(item));
}

/** Forgets one that the house has answered. */
export function remove(id) {
  return within("readwrite", (store) => store.delete(id));
}

/** Forgets everything: at sign-out. */
export function wipe() {
  return within("readwrite", (store) => store.clear());
}

/** Why no more may wait; empty when one more may. */
export function full(items, now) {
  if (items.length >= MOST) {
    return `${MOST} sign-offs wait already, which is as many as this device keeps.`;
  }
  if (items.some((item) => now - Date.parse(item.madeAt) > LONGEST_MS)) {
    return "Something here has waited for more than 12 hours.";
  }
  return "";
}
