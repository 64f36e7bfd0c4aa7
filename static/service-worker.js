// Keeps the shell and the static files at hand. Nothing of the book is ever kept here: pages are asked of the house, and only
// when it can't be reached does the shell stand in.

"use strict";

const SHELL = "/round/offline";
const FILES = [
  "/static/style.css",
  "/static/atkinson-400.woff2",
  "/static/atkinson-700.woff2",
  "/static/icon.svg",
  "/static/waiting-store.js",
  "/static/waiting-send.js",
  "/static/offline.js",
  "/static/round.js",
];
// The files' names hold their hashes, so a new version of any of them is a new cache.
const CACHE = `silkward ${FILES.join(" ")}`;

self.addEventListener("install", (event) => {
  const fill = async () => {
    const cache = await caches.open(CACHE);
    await cache.addAll([...FILES, new Request(SHELL, { cache: "reload", credentials: "omit" })]);
    await self.skipWaiting();
  };
  event.waitUntil(fill());
});

self.addEventListener("activate", (event) => {
  const tidy = async () => {
    const names = await caches.keys();
    await Promise.all(names.filter((name) => name.startsWith("silkward ") && name !== CACHE).map((name) => caches.delete(name)));
    await self.clients.claim();
  };
  event.waitUntil(tidy());
});

async function file(request) {
  return (await caches.match(request)) ?? fetch(request);
}

async function page(request) {
  try {
    return await fetch(request);
  } catch (error) {
    const shell = await caches.match(SHELL);
    if (shell) {
      return shell;
    }
    throw error;
  }
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== self.location.origin) {
    return;
  }
  if (address.pathname.startsWith("/static/")) {
    event.respondWith(file(request));
  } else if (request.mode === "navigate") {
    event.respondWith(page(request));
  }
});
