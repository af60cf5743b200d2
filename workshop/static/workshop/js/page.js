/* Small courtesies; every page works without them. */
"use strict";

function focusOn(root) {
  const first = root.querySelector("[data-focus]");
  if (first) first.focus();
}

function unreachable(show) {
  const words = document.querySelector("[data-unreachable]");
  if (words) words.hidden = !show;
}

document.addEventListener("DOMContentLoaded", () => focusOn(document));
document.addEventListener("htmx:afterSwap", (event) => focusOn(event.target));
document.addEventListener("htmx:sendError", () => unreachable(true));
document.addEventListener("htmx:responseError", () => unreachable(true));
document.addEventListener("htmx:afterOnLoad", () => unreachable(false));

/* The rooms behind the last bead close when the page is touched elsewhere or Escape is pressed. */
document.addEventListener("click", (event) => {
  for (const more of document.querySelectorAll(".rooms-more[open]")) {
    if (!more.contains(event.target)) more.open = false;
  }
});
document.addEventListener("keydown", (event) => {
  if (event.key !== "Escape") return;
  for (const more of document.querySelectorAll(".rooms-more[open]")) {
    more.open = false;
    more.querySelector("summary").focus();
  }
});

/* "/" goes to the search of this page, "?" to the list of keys; neither while somebody types. */
document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.target.closest("input, textarea, select, [contenteditable], dialog")) return;
  const boxes = [...document.querySelectorAll("[data-find]")];
  if (event.key === "/" && boxes.length) {
    event.preventDefault();
    let box = boxes.find((each) => each.checkVisibility());
    if (!box) {
      box = boxes.find((each) => each.closest("details"));
      if (!box) return;
      box.closest("details").open = true;
    }
    box.focus();
    box.select();
  } else if (event.key === "?" && boxes.length) {
    const form = document.querySelector("form.find");
    if (form) location.assign(`${form.getAttribute("action")}#keys`);
  }
});

/* A time zone that nobody chose yet is most likely the one this browser lives in. */
document.addEventListener("DOMContentLoaded", () => {
  const here = Intl.DateTimeFormat().resolvedOptions().timeZone;
  for (const list of document.querySelectorAll("select[data-time-zone]")) {
    if (!list.value && [...list.options].some((each) => each.value === here)) list.value = here;
  }
});

/* What takes longer than a moment says so from the press on. */
document.addEventListener("submit", (event) => {
  for (const words of event.target.querySelectorAll("[data-being-done]")) words.hidden = false;
});

/* The workshop closes and opens anew: once it has been away and answers again, the page goes on. */
document.addEventListener("DOMContentLoaded", () => {
  const link = document.querySelector("a[data-when-open]");
  let away = false;
  async function ask() {
    const here = await fetch(link.dataset.whenOpen).then((answer) => answer.ok, () => false);
    if (here && away) return location.assign(link.href);
    away = away || !here;
    setTimeout(ask, 500);
  }
  if (link) ask();
});
