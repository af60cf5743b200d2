/* The counter's keys: Enter goes to the next box, + and − count at once. Pages work without it. */
"use strict";

(() => {
  const form = () => document.getElementById("counter");

  function boxes() {
    return [...form().querySelectorAll("input[data-number]")].filter((box) => box.name.startsWith("n_"));
  }

  function say(box) {
    box.dispatchEvent(new Event("input", { bubbles: true }));
  }

  document.addEventListener("click", (event) => {
    const button = event.target.closest("[data-step]");
    if (!button) return;
    const box = button.parentElement.querySelector("input[data-number]");
    const text = box.value.trim();
    if (text !== "" && !/^\d+$/.test(text)) return; // "1 gross": the workshop's computer counts on
    event.preventDefault();
    box.value = String(Math.max(1, Number(text) + Number(button.dataset.step)));
    say(box);
  });

  document.addEventListener("keydown", (event) => {
    const box = event.target;
    if (event.key !== "Enter" || !(box instanceof HTMLInputElement) || !form().contains(box)) return;
    if (box.matches("[data-number]")) {
      event.preventDefault();
      const all = boxes();
      const here = all.findIndex((one) => one === box || one.closest("li") === box.closest("li"));
      const next = all[here + 1] || document.getElementById("id_find");
      next.focus();
    } else if (box.name === "who" || box.name === "find") {
      // Enter takes the first one found.
      event.preventDefault();
      const list = document.getElementById(box.name === "who" ? "people" : "designs");
      const first = list && list.querySelector("button[name='do']");
      if (first && box.value.trim() !== "") first.click();
    }
  });

  document.addEventListener("focusin", (event) => {
    if (event.target.matches("input[data-number]")) event.target.select();
  });

  /* What is typed while the page is on its way is put back into the page that comes. */
  const typedInto = () => [...form().querySelectorAll("input[data-number], input[name='note']")];
  let sent = new Map();

  /* A button pressed before the last one is answered waits its turn, or one would undo the other. */
  let underWay = false;
  let next = "";

  document.addEventListener(
    "click",
    (event) => {
      const button = event.target.closest("#counter button[name='do'][hx-post]");
      if (!button || !underWay) return;
      event.preventDefault();
      event.stopImmediatePropagation();
      next = button.value;
    },
    true,
  );

  document.addEventListener("htmx:afterRequest", (event) => {
    if (event.detail.target && event.detail.target.id === "counter-body") underWay = false;
  });

  document.addEventListener("htmx:beforeRequest", (event) => {
    if (event.detail.target.id !== "counter-body") return;
    underWay = true;
    sent = new Map(typedInto().map((box) => [box.name, box.value]));
  });

  document.addEventListener("htmx:beforeSwap", (event) => {
    if (event.detail.target.id !== "counter-body") return;
    const typed = typedInto().filter((box) => sent.has(box.name) && sent.get(box.name) !== box.value);
    sent = new Map(typed.map((box) => [box.name, box.value]));
  });

  document.addEventListener("htmx:afterSettle", (event) => {
    if (event.target.id === "counter-body") {
      for (const [name, value] of sent) {
        const box = form().elements.namedItem(name);
        if (box && box.value !== value) {
          box.value = value;
          say(box);
        }
      }
      sent = new Map();
      underWay = false;
      if (next !== "") {
        const button = form().querySelector(`button[name="do"][value="${next}"]`);
        next = "";
        if (button) button.click();
      }
    }
    const fresh = document.querySelector("[data-new-line]");
    if (!fresh) return;
    const box = document.getElementById(fresh.dataset.newLine);
    fresh.remove();
    if (box) box.focus();
  });
})();
