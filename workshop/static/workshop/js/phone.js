/* A page on a paired phone: registers the worker between it and the desk, tells it which form may
   come late, shows what waits, and forgets everything when its person signs out. */
"use strict";

const texts = document.getElementById("phone-words");
if (!texts || !navigator.serviceWorker || !self.phoneStore) return;

const store = self.phoneStore;
const { person } = texts.dataset;
const said = JSON.parse(texts.dataset.words);
const here = location.pathname + location.search;
const REFILL = "refill";
const AGAIN_MS = 20000;

const tell = async (message) =>
  (await navigator.serviceWorker.ready).active.postMessage(message);

/* A page that was kept is opened many times: each time its forms are new ones, at this hour. */
async function freshForms() {
  for (const box of document.querySelectorAll('input[type="hidden"][name="key"]')) {
    box.value = crypto.randomUUID();
  }
  if (!document.querySelector(".message.kept")) return;
  // By the desk's clock, as far as it was last seen to be from this one.
  const at = Date.now() + ((await store.get("facts", "behind")) ?? 0);
  const now = new Date(at - new Date(at).getTimezoneOffset() * 60000).toISOString();
  for (const box of document.querySelectorAll('input[type="date"]')) {
    if (box.value === texts.dataset.today) box.value = now.slice(0, 10);
  }
  for (const box of document.querySelectorAll('input[type="datetime-local"]')) {
    if (box.value.slice(0, 10) === texts.dataset.today) box.value = now.slice(0, 16);
  }
}

/* The labels and values of a form as somebody reads them. */
function asWritten(form) {
  const lines = [];
  for (const box of form.elements) {
    const label = box.labels?.[0]?.textContent.trim().replace(/\s+/g, " ");
    const chosen = ["radio", "checkbox"].includes(box.type);
    // A photograph is shown itself.
    const unread = ["hidden", "file"].includes(box.type) || (chosen && !box.checked);
    if (!label || unread) continue;
    const about = chosen && box.closest("fieldset")?.querySelector("legend")?.textContent.trim();
    if (about) lines.push([about, label]);
    else if (chosen) lines.push([label, "✓"]);
    else lines.push([label, (box.selectedOptions?.[0]?.textContent ?? box.value).trim()]);
  }
  for (const told of document.querySelectorAll("[data-told]")) {
    lines.push([told.dataset.told, told.textContent.trim()]);
  }
  return lines.filter(([, value]) => value);
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  const path = new URL(form.action, location.href).pathname;
  if (path === said.sign_out) return leave(event, form);
  if (!("late" in texts.dataset) || form.method !== "post" || form.dataset.told) return;
  event.preventDefault();
  const url = new URL(form.action || location.href, location.href);
  const about = { title: document.querySelector("h1").textContent.trim(), said: asWritten(form) };
  const { submitter } = event;
  (async () => {
    const refilled = refilledHere();
    if (refilled) await store.dropAct(person, refilled.id);
    sessionStorage.removeItem(REFILL);
    // Where nothing can be written down it is sent all the same: the desk may answer.
    await store.put("facts", about, `late ${url.pathname}${url.search}`).catch(() => sayIfFull());
    form.dataset.told = "yes";
    form.requestSubmit(submitter);
  })();
});

async function leave(event, form) {
  if (form.dataset.told) return;
  event.preventDefault();
  const waiting = await store.countOf(person);
  if (waiting && !confirm(said.leave.replace("%s", waiting))) return;
  await store.forget(person);
  form.dataset.told = "yes";
  form.requestSubmit();
}

async function show() {
  const waiting = await store.countOf(person);
  const strip = document.getElementById("phone-waiting");
  strip.hidden = !waiting;
  strip.querySelector("a").textContent = said.waiting.replace("%s", waiting);
  const list = document.getElementById("phone-acts");
  if (!list) return;
  showActs(list);
  const told = await store.toldOf(person);
  document.getElementById("phone-has-it").hidden = told.length === 0;
  document.getElementById("phone-told").replaceChildren(...told.map(toldRow));
}

/* What the desk said to an act that it has now, until it was seen. */
function toldRow(each) {
  const row = document.getElementById("phone-told-row").content.cloneNode(true);
  row.querySelector("[data-title]").textContent = each.title;
  row.querySelector("[data-said]").textContent = asText(each.said);
  row.querySelector("[data-open]").href = each.path;
  row.querySelector("[data-seen]").addEventListener("click", async () => {
    await store.dropTold(person, each.id);
    show();
  });
  return row;
}

const asText = (html) => new DOMParser().parseFromString(html, "text/html").body.textContent.trim();

async function showActs(list) {
  const acts = await store.actsOf(person);
  document.getElementById("phone-no-acts").hidden = acts.length > 0;
  list.replaceChildren(...acts.map(card));
}

function card(each) {
  const row = document.getElementById("phone-act").content.cloneNode(true);
  const fill = (name, text) => (row.querySelector(`[data-${name}]`).textContent = text);
  fill("title", each.title);
  const hour = new Date(each.at + (each.behind ?? 0));
  fill("hour", hour.toLocaleString([], { dateStyle: "medium", timeStyle: "short" }));
  fill("state", each.state === "asks" ? said.asks : said.waits);
  fill("why", each.why ? whyOf(each.why) : "");
  const lines = row.querySelector("[data-said]");
  for (const [label, value] of each.said) {
    lines.append(Object.assign(document.createElement("dt"), { textContent: label }));
    lines.append(Object.assign(document.createElement("dd"), { textContent: value }));
  }
  for (const [, value] of each.entries) {
    if (typeof value === "string") continue;
    const picture = Object.assign(new Image(), { src: addressOf(value), alt: each.title });
    picture.className = "kept-picture";
    lines.after(picture);
  }
  const again = row.querySelector("[data-again]");
  again.addEventListener("click", () => openFilledIn(each));
  for (const choice of each.why ? choicesOf(each.why) : []) {
    const button = Object.assign(document.createElement("button"), { type: "button" });
    button.className = "button small";
    button.textContent = choice.label;
    button.addEventListener("click", () => choose(each, choice));
    again.before(button);
  }
  row.querySelector("[data-drop]").addEventListener("click", async () => {
    if (!confirm(said.drop)) return;
    await store.dropAct(person, each.id);
    show();
  });
  row.querySelector("[data-choices]").hidden = each.state !== "asks";
  return row;
}

/* What the desk says can be done instead. */
function choicesOf(text) {
  const page = new DOMParser().parseFromString(text, "text/html");
  return [...page.querySelectorAll("[data-late-choices] li")].map((each) => ({
    label: each.textContent.trim(),
    boxes: JSON.parse(each.dataset.boxes),
    path: each.dataset.path,
    look: "look" in each.dataset,
  }));
}

/* The act with what was chosen in its boxes: sent again under its own key, or opened filled in. */
async function choose(each, { boxes, path, look }) {
  const kept = each.entries.filter(([name]) => !(name in boxes));
  const entries = [...kept, ...Object.entries(boxes)];
  const chosen = { ...each, entries, path: path || each.path };
  if (look) return openFilledIn(chosen);
  await store.writeAct(person, { ...chosen, state: "waits", why: "" });
  show();
  tell({ send: true });
}

function openFilledIn(each) {
  sessionStorage.setItem(REFILL, JSON.stringify(each));
  location.assign(each.path);
}

/* What the desk answered, in its own sentences. */
function whyOf(text) {
  const page = new DOMParser().parseFromString(text, "text/html");
  const found = page.querySelectorAll(".error-summary li, .message.error, .message.warning");
  const shown = [...found].filter((each) => !each.hidden);
  const sentences = shown.map((each) => each.textContent.trim().replace(/\s+/g, " "));
  return sentences.join(" ") || page.querySelector("h1")?.textContent.trim() || "";
}

/* An act that came back as a question is filled in once more, to be changed and sent. */
function refilledHere() {
  const kept = JSON.parse(sessionStorage.getItem(REFILL) ?? "null");
  return kept?.path === here ? kept : null;
}

function refill() {
  const kept = refilledHere();
  if (!kept) return;
  const form = document.querySelector("main form[method='post']");
  for (const [name, value] of kept.entries) {
    if (["key", "csrfmiddlewaretoken", "seen"].includes(name)) continue;
    for (const box of form?.querySelectorAll(`[name="${CSS.escape(name)}"]`) ?? []) {
      if (box.type === "file") box.files = filesOf(value);
      else if (["radio", "checkbox"].includes(box.type)) box.checked ||= box.value === value;
      else if (box.type !== "hidden") box.value = value;
    }
  }
  // The page's own scripts follow what stands in its boxes now.
  form?.dispatchEvent(new Event("change"));
  const number = form?.querySelector("input[data-number]");
  number?.dispatchEvent(new Event("input", { bubbles: true }));
}

const addressOf = ({ type, base64 }) => `data:${type};base64,${base64}`;

function filesOf({ name, type, base64 }) {
  const bytes = Uint8Array.from(atob(base64), (letter) => letter.charCodeAt(0));
  const made = new DataTransfer();
  made.items.add(new File([bytes], name, { type }));
  return made.files;
}

/* Said before anything is typed in vain, and again when a photograph needs more room. */
async function sayIfFull(fileBytes = 0) {
  if (!("late" in texts.dataset) || (await store.hasRoom(fileBytes))) return;
  document.querySelector(".message.no-room")?.remove();
  const told = Object.assign(document.createElement("p"), { textContent: said.no_room });
  told.className = "message warning no-room";
  told.setAttribute("role", "alert");
  document.getElementById("main").prepend(told);
}

/* A buzz and a tick: the desk has it. */
function tick(told) {
  if (!told?.length) return;
  navigator.vibrate?.([40, 60, 40]);
  // The list of what waits tells it itself.
  if (document.getElementById("phone-told")) return;
  const line = document.getElementById("phone-tick");
  line.querySelector("a").textContent = told.map((each) => asText(each.said) || each.title).join(" ");
  line.hidden = false;
}

async function begin() {
  await navigator.serviceWorker.register(said.worker, { scope: "/" });
  await store.begin(person);
  // On a full phone those of before stay; everything below goes on.
  await store.put("facts", said, "words").catch(() => {});
  await freshForms();
  tellOfWhat();
  refill();
  show();
  sayIfFull();
  if (navigator.onLine) {
    tell({ send: true });
    try {
      const answer = await fetch(said.pages);
      if (answer.ok && !answer.redirected) tell({ keep: (await answer.json()).pages });
    } catch {
      /* Out of reach: what was kept before stays. */
    }
  }
}

/* A photograph without a signal: one page for all things, which learns of what from the link. */
const PICTURED = "pictured";

function tellOfWhat() {
  const form = document.querySelector("[data-pictured]");
  if (!form) return;
  const [kind, key] = location.pathname.split("/").slice(-3);
  const { path, name } = JSON.parse(sessionStorage.getItem(PICTURED) ?? "{}");
  document.querySelector("h1").textContent = JSON.parse(form.dataset.pictured)[kind] ?? "";
  document.querySelector(".lead").textContent = path === location.pathname ? name : key;
}

document.addEventListener("click", (event) => {
  const link = event.target.closest("a[data-photo-of]");
  if (!link) return;
  const name = document.querySelector("h1").textContent.trim();
  sessionStorage.setItem(PICTURED, JSON.stringify({ path: link.pathname, name }));
});
document.addEventListener("photo:made", ({ detail }) => sayIfFull(detail));

navigator.serviceWorker.addEventListener("message", ({ data }) => {
  tick(data.told);
  show();
});
addEventListener("online", () => tell({ send: true }));
addEventListener("pageshow", (event) => event.persisted && freshForms());
setInterval(async () => (await store.countOf(person)) && tell({ send: true }), AGAIN_MS);
begin();
