/* The counter's keys, and the figures that follow the form. Pages work without it.

   Three rules keep every keystroke and every press:
   - no answer replaces a box that can be typed into, or the button that takes the order;
   - presses wait in a line as words, not as buttons: one request at a time, each reading the form
     as it stands when its turn comes, so the last answer is always that of the last form;
   - nothing on the page moves while a finger or the mouse is down. */
"use strict";

(() => {
  const THINKING_MS = 250; // a pause in the typing, before figures are asked for
  const AFTER_TOUCH_MS = 60; // a touch's click comes a little after the finger is lifted

  const form = document.getElementById("counter");
  const asks = document.getElementById("counter-asks");
  const find = document.getElementById("id_find");
  const lookAgain = document.querySelector("[data-look-again]");
  const takeButton = document.querySelector("#sheet button[value='take']");
  if (!form || !asks) return;

  /* --- one thing after the other --------------------------------------------------------- */

  const presses = []; // {act, byKey}
  let figuresWanted = false;
  let underWay = false;
  let pause = 0;
  let typed = 0; // counts what changes the figures …
  let shown = 0; // … up to here they are shown

  const upToDate = () => presses.length === 0 && !underWay && typed === shown;

  function press(act, byKey) {
    typed += 1;
    presses.push({ act, byKey });
    goOn();
  }

  function wantFigures(wait) {
    clearTimeout(pause);
    pause = setTimeout(() => {
      figuresWanted = true;
      goOn();
    }, wait);
  }

  async function goOn() {
    if (underWay) return;
    underWay = true;
    while (presses.length || figuresWanted) {
      const next = presses.shift();
      if (!next || begins(next.act)) await ask(next);
    }
    underWay = false;
    form.dispatchEvent(new CustomEvent("counter:still"));
  }

  /* What a press does at once, before the workshop's computer is asked. */
  function begins(act) {
    const [verb, key] = act.split(":");
    const line = document.getElementById(`line-${key}`);
    if (verb === "add" && line) {
      shown = typed;
      line.querySelector("input[data-number]").focus();
      return false;
    }
    if (verb === "drop" && line) {
      const after = line.nextElementSibling || line.previousElementSibling;
      const held = line.contains(document.activeElement);
      line.remove();
      if (held) (after ? after.querySelector("input[data-number]") : find).focus();
    }
    return true;
  }

  async function ask(next) {
    const till = typed;
    clearTimeout(pause);
    figuresWanted = false;
    const values = next ? { do: next.act } : {};
    const path = next ? form.dataset.change : form.dataset.panel;
    try {
      await htmx.ajax("POST", path, { source: asks, target: asks, swap: "none", values });
      await handsOff();
    } catch {
      // Told by page.js; what was typed is here, and is looked at once more when it is sent.
    }
    shown = till;
    if (next) afterPress(next);
  }

  function afterPress({ act, byKey }) {
    const [verb, key] = act.split(":");
    if (verb === "add") {
      const line = document.getElementById(`line-${key}`);
      if (line) line.querySelector("input[data-number]").focus();
    } else if (["vary", "loose", "work-on"].includes(verb)) {
      // Where something was wrong the boxes are open still, with the sentence.
      const wrong = form.querySelector("[data-presses][open] .wrong input, #own-kind .wrong input");
      const box = wrong || form.querySelector(".order-line[data-new]:last-child input[data-number]");
      if (box) box.focus();
    } else if (["pick", "forget", "adding", "not-adding"].includes(verb)) {
      const box = document.querySelector("#counter-who input:not([type='hidden'])");
      if (box) box.focus();
      else if (byKey) find.focus();
    }
  }

  /* --- nothing moves under a finger --------------------------------------------------------- */

  let down = false;
  let held = [];
  let lifted = [];

  const handsOff = () => (down ? new Promise((go) => lifted.push(go)) : Promise.resolve());

  function lift() {
    if (!down) return;
    down = false;
    for (const lay of held) lay();
    for (const go of lifted) go();
    held = [];
    lifted = [];
  }

  document.addEventListener("pointerdown", () => (down = true), true);
  document.addEventListener("pointerup", (event) => {
    setTimeout(lift, event.pointerType === "mouse" ? 0 : AFTER_TOUCH_MS);
  });
  document.addEventListener("pointercancel", lift);
  window.addEventListener("blur", lift);

  document.addEventListener("htmx:beforeSwap", (event) => {
    const told = event.detail;
    if (!down || !told.shouldSwap) return;
    told.shouldSwap = false;
    const swapStyle = told.requestConfig.elt.getAttribute("hx-swap") || "innerHTML";
    const { target, serverResponse } = told;
    held.push(() => htmx.swap(target, serverResponse, { swapStyle, swapDelay: 0, settleDelay: 0 }));
  });

  /* Figures that were open stay open, with what they showed until the new working is there. */
  document.addEventListener("htmx:oobBeforeSwap", (event) => {
    for (const open of event.detail.target.querySelectorAll("details[open][id]")) {
      const twin = event.detail.fragment.querySelector(`#${open.id}`);
      if (!twin) continue;
      twin.open = true;
      twin.querySelector(".opened").replaceChildren(...open.querySelector(".opened").childNodes);
    }
  });

  /* --- presses -------------------------------------------------------------------------------- */

  document.addEventListener("click", (event) => {
    const button = event.target.closest("button[data-act], button[data-step]");
    if (!button || !form.contains(button)) return;
    if ("step" in button.dataset) {
      step(event, button);
      return;
    }
    event.preventDefault();
    if (button.closest("#designs") && find.value !== "") {
      find.value = "";
      htmx.trigger(find, "htmx:abort");
    }
    press(button.value, event.detail === 0);
  });

  function step(event, button) {
    const box = button.parentElement.querySelector("input[data-number]");
    const text = box.value.trim();
    if (text !== "" && !/^\d+$/.test(text)) return; // "1 gross": the workshop's computer counts on
    event.preventDefault();
    box.value = String(Math.max(1, Number(text) + Number(button.dataset.step)));
    box.dispatchEvent(new Event("input", { bubbles: true }));
  }

  form.addEventListener("input", (event) => {
    lookAgain.hidden = true;
    if (event.target === firstOf) firstOf = null;
    if (!event.target.matches("[data-number]")) return;
    typed += 1;
    wantFigures(THINKING_MS);
  });

  form.addEventListener("change", (event) => {
    if (event.target.matches("[data-tells]")) wantFigures(0);
  });

  /* What is promised must have been looked at: the button waits for the figures of what was typed. */
  form.addEventListener("submit", (event) => {
    const button = event.submitter;
    if (upToDate() || !button || !["take", "draft"].includes(button.value)) return;
    if (button.value === "take" && typed === shown && presses.length === 0) return;
    event.preventDefault();
    figuresWanted = figuresWanted || typed !== shown;
    form.addEventListener(
      "counter:still",
      () => {
        if (button.value === "draft") form.requestSubmit(button);
        else lookAgain.hidden = false;
      },
      { once: true },
    );
    goOn();
  });

  /* --- keys ------------------------------------------------------------------------------------ */

  let firstOf = null; // the box whose first find is taken as soon as it is there

  function takeFirst(box) {
    const list = document.getElementById(box.dataset.takesFirst);
    const words = box.value.trim();
    firstOf = null;
    if (words === "") return;
    if (list.dataset.words.trim() !== words) {
      firstOf = box;
      return;
    }
    const first = list.querySelector("button[data-act]");
    if (first) first.click();
  }

  document.addEventListener("htmx:afterSettle", (event) => {
    if (event.target.id === "designs") {
      // The list may have been on its way while a design was laid on the order.
      for (const card of event.target.querySelectorAll("button[data-act]")) {
        const key = card.value.split(":")[1];
        if (document.getElementById(`line-${key}`)) card.closest("li").remove();
      }
    }
    if (firstOf && event.target.id === firstOf.dataset.takesFirst) takeFirst(firstOf);
  });

  form.addEventListener("keydown", (event) => {
    const box = event.target;
    if (event.key !== "Enter" || event.isComposing || !(box instanceof HTMLInputElement)) return;
    if (!["text", "date", "tel"].includes(box.type)) return;
    event.preventDefault();
    const own = box.closest("[data-presses]");
    if (own) own.querySelector("button[data-act]").click();
    else if (box === find && !box.value.trim() && form.querySelector(".order-line")) takeButton.focus();
    else if (box.dataset.takesFirst) takeFirst(box);
    else if (box.matches("[data-number]")) nextBox(box).focus();
    else if (form.querySelector(".order-line")) takeButton.focus();
  });

  function nextBox(box) {
    const line = box.closest("li").nextElementSibling;
    return line ? line.querySelector("input[data-number]") : find;
  }

  form.addEventListener("focusin", (event) => {
    if (event.target.matches("input[data-number]")) event.target.select();
  });
})();
