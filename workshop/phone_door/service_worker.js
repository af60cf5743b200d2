/* Between a paired phone and the desk. Looks: from the desk while it answers, else as they were last
   seen, with the hour. Acts of a form that says it may come late: to the desk, else written down and
   sent once it answers, in order; a key of the form's own makes a repeat harmless. */
"use strict";

const store = self.phoneStore;
const LOOK_MS = 8000;
const ACT_MS = 15000;
const MOST_FAILED = 2;
const FRESH_MS = 10 * 60 * 1000;
const FILES = "files";
const AT = "/workshop/phones/";
const KEPT_HEADERS = ["Content-Security-Policy", "Permissions-Policy"];
const PIECE = 0x8000; // letters that one call takes without running out of room

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));
self.addEventListener("sync", (event) => event.waitUntil(send()));
self.addEventListener("message", (event) => {
  if (event.data.send) event.waitUntil(send());
  if (event.data.keep) event.waitUntil(keepAll(event.data.keep));
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== self.location.origin) return;
  if (request.method === "GET" && url.pathname.startsWith("/static/")) {
    event.respondWith(file(request));
  } else if (request.mode === "navigate" && request.method === "GET") {
    event.respondWith(look(request, url));
  } else if (request.mode === "navigate" && request.method === "POST") {
    event.respondWith(act(request, url));
  }
});

const pathOf = (url) => url.pathname + url.search;
const person = () => store.get("facts", "person");
const words = async () => (await store.get("facts", "words")) ?? {};

async function within(ms, request, worst = 499) {
  const late = new Promise((_, failed) => setTimeout(() => failed(new TypeError("late")), ms));
  const answer = await Promise.race([fetch(request), late]);
  if (answer.status > worst) throw new TypeError("the desk is not itself");
  return answer;
}

async function file(request) {
  const files = await caches.open(FILES);
  const kept = await files.match(request);
  if (kept) return kept;
  const answer = await fetch(request);
  if (answer.ok && /immutable/.test(answer.headers.get("Cache-Control"))) {
    await files.put(request, answer.clone());
  }
  return answer;
}

async function look(request, url) {
  try {
    const answer = await within(LOOK_MS, request);
    if (answer.headers.get("X-Phone") === "unknown") await store.forgetAll();
    await keep(pathOf(url), answer.clone());
    return answer;
  } catch {
    const said = await words();
    const page = await asKept(url, said);
    if (!page) return plain(said.none ?? "The desk is out of reach, and this page was not kept.");
    const at = new Date(page.at + (page.behind ?? 0));
    const hour = at.toLocaleString([], { dateStyle: "medium", timeStyle: "short" });
    const told = `<p class="message kept" role="status">${said.kept.replace("%s", hour)}</p>`;
    const text = page.text.replace(/<main id="main"[^>]*>/, (opening) => opening + told);
    return html(text, page.headers ?? { "Content-Security-Policy": page.policy });
  }
}

/* This page; else without what was asked of it; else the one that takes its place out of reach. */
async function asKept(url, said) {
  const whose = await person();
  const instead = Object.entries(said.instead ?? {}).filter(([from]) =>
    new RegExp(`^${from}$`).test(url.pathname),
  );
  for (const path of [pathOf(url), url.pathname, ...instead.map(([, to]) => to)]) {
    const page = await store.readPage(whose, path);
    if (page) return page;
  }
  return null;
}

async function keep(path, answer) {
  const whose = answer.headers.get("X-Keep");
  if (!whose || !answer.ok) return;
  await store.put("facts", whose, "person");
  const headers = Object.fromEntries(
    KEPT_HEADERS.map((name) => [name, answer.headers.get(name)]).filter(([, said]) => said),
  );
  // What was just done is told once, not each time the page is seen out of reach.
  const text = (await answer.text()).replace(/<ul class="messages">.*?<\/ul>/s, "");
  const behind = await store.get("facts", "behind");
  // Signed out in between: then it is not kept.
  await store.keepPage(whose, path, { text, headers, behind, at: Date.now() }).catch(() => {});
}

/* By one at a time: who looks at several pages meanwhile sets no second one going. */
function keepAll(paths) {
  return navigator.locks.request("keep", { ifAvailable: true }, (free) => free && keepEach(paths));
}

async function keepEach(paths) {
  const whose = await person();
  let failed = 0;
  for (const path of paths) {
    if (Date.now() - (await store.keptSince(whose, path)) < FRESH_MS) continue;
    try {
      const request = new Request(path, { headers: { "X-Only-Kept": "yes" } });
      await keep(path, await within(LOOK_MS, request));
      failed = 0;
    } catch {
      // One page that fails keeps none of the others from being kept.
      if (++failed > MOST_FAILED) return;
    }
  }
}

async function act(request, url) {
  const told = await store.get("facts", `late ${pathOf(url)}`);
  const copy = told && request.clone();
  try {
    return await within(ACT_MS, request);
  } catch (failed) {
    if (!told) {
      const said = await words();
      return plain(said.lost ?? "The desk is out of reach. Nothing was sent; go back, it is there.");
    }
    // A file box that was left empty holds a file without a byte.
    const boxes = [...(await copy.formData())].filter(([, value]) => value.size !== 0);
    const entries = await Promise.all(boxes.map(async ([name, value]) => [name, await kept(value)]));
    const id = entries.find(([name]) => name === "key")?.[1] || crypto.randomUUID();
    try {
      const behind = await store.get("facts", "behind");
      const when = { at: Date.now(), behind };
      const written = { ...told, ...when, id, entries, path: pathOf(url), state: "waits" };
      await store.writeAct(await person(), written);
    } catch {
      return plain((await words()).full ?? "This phone’s store is full. Go back, it is still there.");
    }
    self.registration.sync?.register("send").catch(() => {});
    return Response.redirect(`${AT}waiting/`, 303);
  }
}

/* What stands in a box, as it can be enciphered; and a file made of it again. */
async function kept(value) {
  if (typeof value === "string") return value;
  const bytes = new Uint8Array(await value.arrayBuffer());
  let letters = "";
  for (let at = 0; at < bytes.length; at += PIECE) {
    letters += String.fromCharCode(...bytes.subarray(at, at + PIECE));
  }
  return { name: value.name, type: value.type, base64: btoa(letters) };
}

function sent(value) {
  if (typeof value === "string") return value;
  const bytes = Uint8Array.from(atob(value.base64), (letter) => letter.charCodeAt(0));
  return new File([bytes], value.name, { type: value.type });
}

/* When it happened by the desk's clock. How far this phone's was behind is asked as it was then: it
   may have been put right in between. Nothing happened later than now. */
function hourOf(each, behind) {
  return new Date(Math.min(each.at + (each.behind ?? behind), Date.now() + behind)).toISOString();
}

/* Everything that waits, oldest first, by one page or worker at a time. */
function send() {
  return navigator.locks.request("send", { ifAvailable: true }, async (free) => {
    if (!free) return;
    const told = [];
    try {
      const begun = Date.now();
      const asked = await within(LOOK_MS, new Request(`${AT}token/`, { cache: "no-store" }));
      if (asked.redirected || !asked.ok) return;
      const { token, person: whose, now } = await asked.json();
      // How far this phone's clock is behind the desk's: hours are told by the desk's.
      const behind = Math.round(now - (begun + Date.now()) / 2);
      await store.put("facts", behind, "behind");
      for (const each of await store.actsOf(whose)) {
        if (each.state === "waits") told.push(await sendOne(each, token, whose, behind));
      }
    } catch {
      /* Later, then. */
    } finally {
      const message = { changed: true, told: told.filter(Boolean) };
      for (const page of await self.clients.matchAll()) page.postMessage(message);
    }
  });
}

/* Gives what the desk said, or nothing where it asks. */
async function sendOne(each, token, whose, behind) {
  const holdsFile = each.entries.some(([, value]) => typeof value !== "string");
  const body = holdsFile ? new FormData() : new URLSearchParams();
  for (const [name, value] of each.entries) {
    if (!["csrfmiddlewaretoken", "key"].includes(name)) body.append(name, sent(value));
  }
  body.set("key", each.id);
  const headers = { "X-CSRFToken": token, "X-Happened-At": hourOf(each, behind) };
  const request = new Request(each.path, { method: "POST", body, headers });
  // An act that the desk fails at (500) is a question too, and holds up none that come after.
  const answer = await within(ACT_MS, request, 500);
  if (/\/(sign-in|pair|back)\/$/.test(new URL(answer.url).pathname)) {
    throw new TypeError("sign in first");
  }
  const text = await answer.text();
  if (!answer.redirected || !answer.ok) {
    await store.writeAct(whose, { ...each, state: "asks", why: text });
    return null;
  }
  const said = text.match(/<li class="message success">([^<]*)</)?.[1] ?? "";
  const { pathname: path } = new URL(answer.url);
  const told = { id: each.id, at: Date.now(), title: each.title, said, path };
  // What the desk has is no longer waited for, though there be no room for its answer.
  await store.keepTold(whose, told).catch(() => {});
  await store.dropAct(whose, each.id);
  return told;
}

function html(text, headers) {
  const own = { "Content-Type": "text/html; charset=utf-8", "Cache-Control": "no-store" };
  return new Response(text, { headers: { ...headers, ...own } });
}

function plain(sentence) {
  return html(
    `<!DOCTYPE html><meta charset="utf-8"><meta name="viewport" content="width=device-width">` +
      `<p>${sentence}</p><p><a href="/">⌂</a> <a href="${AT}waiting/">…</a></p>`,
    { "Content-Security-Policy": "default-src 'none'" },
  );
}
