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
  const prices = form.dataset.prices && JSON.parse(form.dataset.prices);
  const cash = document.querySelector("#sheet button[data-pays]");

  let typed = 0; // counts what changes the sum …
  let shown = 0; // … up to here it is shown
  let underWay = false;
  let pause = 0;

  /* A paired phone that cannot ask tells the sum by the prices as they were last seen. */
  function tellOurselves() {
    const sums = self.keptSums;
    const lines = sums.linesOf(form, prices, (key) => prices.steps[key]);
    const total = sums.totalOf(lines, prices);
    const due = document.getElementById("sell-due");
    const untold = lines.filter((line) => line.sum === null);
    sums.tellAlong(form, lines);
    due.querySelectorAll(".short").forEach((old) => old.remove());
    for (const { name } of untold) {
      const sentence = form.dataset.untold.replace("%s", name);
      const told = Object.assign(document.createElement("p"), { textContent: sentence });
      told.className = "short";
      told.dataset.untold = "";
      due.prepend(told);
    }
    due.querySelector(".answer-value").textContent = total === null ? "–" : sums.money(prices, total);
    document.querySelector("input[name='seen']").value = total === null ? "" : sums.plain(total);
    for (const sum of form.querySelectorAll(".take-sum")) sum.textContent = "";
    for (const { row, sum } of lines) {
      row.querySelector(".take-sum").textContent = sum === null ? "" : sums.money(prices, sum);
    }
  }

  async function follow() {
    if (underWay) return;
    underWay = true;
    while (shown !== typed) {
      const till = typed;
      try {
        if (prices && document.querySelector(".message.kept")) throw new TypeError("out of reach");
        await htmx.ajax("POST", form.dataset.panel, { source: asks, target: asks, swap: "none" });
      } catch {
        // Told by page.js; the sum is looked at once more when it is sent.
        if (prices) tellOurselves();
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

  self.onTaps(form, () => changed(0));

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
    if (!button || !("pays" in button.dataset)) return;
    const untold = prices && document.querySelector("#sell-due .short[data-untold]");
    if (untold) return event.preventDefault();
    if (typed === shown && !underWay) return;
    event.preventDefault();
    form.addEventListener("sell:still", () => (lookAgain.hidden = false), { once: true });
    clearTimeout(pause);
    follow();
  });
})();
