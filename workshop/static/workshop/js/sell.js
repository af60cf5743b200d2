/* Taps and figures of the screen that sells from the shelf. Pages work without it.

   A tap counts at once, in its own box; the sum follows from the workshop's computer. No answer
   replaces a box that can be typed into, and nothing is sold for a sum that was not looked at. */
"use strict";

(() => {
  const THINKING_MS = 250; // a pause in the typing, before the sum is asked for

  const form = document.getElementById("sell");
  const asks = document.getElementById("sell-asks");
  if (!form || !asks) return;
  const lookAgain = document.querySelector("[data-look-again]");
  const cash = document.querySelector("#sheet button[data-pays]");

  let typed = 0; // counts what changes the sum …
  let shown = 0; // … up to here it is shown
  let underWay = false;
  let pause = 0;

  async function follow() {
    if (underWay) return;
    underWay = true;
    while (shown !== typed) {
      const till = typed;
      try {
        await htmx.ajax("POST", form.dataset.panel, { source: asks, target: asks, swap: "none" });
      } catch {
        // Told by page.js; the sum is looked at once more when it is sent.
      }
      shown = till;
    }
    underWay = false;
    form.dispatchEvent(new CustomEvent("sell:still"));
  }

  function changed(wait) {
    typed += 1;
    lookAgain.hidden = true;
    clearTimeout(pause);
    pause = setTimeout(follow, wait);
  }

  document.addEventListener("click", (event) => {
    const button = event.target.closest("button[data-more]");
    if (!button || !form.contains(button)) return;
    const box = button.closest(".take").querySelector("input[data-number]");
    const text = box.value.trim();
    if (text !== "" && !/^\d+$/.test(text)) return; // "1 dozen": the workshop's computer counts on
    event.preventDefault();
    box.value = String(Math.max(0, Number(text) + Number(button.dataset.more)) || "");
    changed(0);
  });

  form.addEventListener("input", (event) => {
    if (event.target.matches("[data-number]")) changed(THINKING_MS);
  });

  form.addEventListener("keydown", (event) => {
    const box = event.target;
    if (event.key !== "Enter" || event.isComposing || !box.matches("input[data-number]")) return;
    event.preventDefault();
    cash.focus();
  });

  form.addEventListener("submit", (event) => {
    const button = event.submitter;
    if (!button || !("pays" in button.dataset) || (typed === shown && !underWay)) return;
    event.preventDefault();
    form.addEventListener("sell:still", () => (lookAgain.hidden = false), { once: true });
    clearTimeout(pause);
    follow();
  });
})();
