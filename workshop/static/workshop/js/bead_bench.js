/* A bead painted by tapping: colours and pattern go into the boxes of its form, and the workshop draws
   and judges what stands there. Without this script the boxes do the same. */
"use strict";

const STEP = 5; // per cent that a tap gives or takes
const MOST_TAKEN_BACK = 200;
let segment = null; // the row of the form that is chosen

const beadForm = () => document.querySelector("form[data-bead-bench]");

if (beadForm()) {
  const row = (number, name) => beadForm().elements[`colours-${number}-${name}`];
  const rowCount = () => Number(beadForm().elements["colours-TOTAL_FORMS"].value);
  const rows = () => [...Array(rowCount()).keys()];
  const filled = () => rows().filter((number) => row(number, "colour").value);
  const shareOf = (number) => parseFloat(row(number, "share").value.replace(",", ".")) || 0;

  function say(words) {
    document.querySelector("[data-bead-said]").textContent = words;
  }

  function write(shares) {
    for (const [number, share] of shares) row(number, "share").value = share;
    remember();
    redraw();
  }

  function redraw() {
    const more = beadForm().querySelector("details:has([name='colours-1-colour'])");
    if (more && filled().some((number) => number > 0)) more.open = true;
    beadForm().dispatchEvent(new CustomEvent("bench", { bubbles: true }));
  }

  /* --- what was done, back and forth ---------------------------------------------------------- */

  const left = new Set(["csrfmiddlewaretoken", "form_key", "reshape"]);
  const taken = () => JSON.stringify([...new FormData(beadForm())].filter(([name]) => !left.has(name)));
  const past = [];
  const future = [];
  let now = taken();
  let waiting = null; // what the boxes of another shape are to hold once they are laid out

  function remember() {
    const state = taken();
    if (state === now) return;
    past.push(now);
    if (past.length > MOST_TAKEN_BACK) past.shift();
    future.length = 0;
    now = state;
  }

  function step(from, onto, words) {
    if (!from.length) return;
    onto.push(now);
    const state = from.pop();
    const shape = beadForm().elements.shape;
    const before = shape.value;
    restore(state);
    say(words);
    if (waiting) {
      waiting = state; // boxes are on their way already
    } else if (shape.value === before) {
      redraw();
    } else {
      // Another shape has other sizes: the workshop lays out their boxes, and they are filled then.
      waiting = state;
      shape.dispatchEvent(new Event("change", { bubbles: true }));
    }
  }

  function restore(state) {
    const values = new Map(JSON.parse(state));
    for (const each of beadForm().elements) {
      if (!each.name || left.has(each.name) || each.type === "file") continue;
      if (each.type === "checkbox") each.checked = values.has(each.name);
      else if (each.type === "radio") each.checked = values.get(each.name) === each.value;
      else if (values.has(each.name)) each.value = values.get(each.name);
    }
    if (segment !== null && !row(segment, "colour").value) segment = null;
    now = state;
  }

  document.addEventListener("htmx:afterSettle", (event) => {
    if (event.target.id !== "bead-form") return;
    if (waiting) restore(waiting);
    else now = taken();
    waiting = null;
    redraw();
  });

  const history = {
    undo: () => step(past, future, beadForm().dataset.saidUndone),
    redo: () => step(future, past, beadForm().dataset.saidRedone),
  };

  const typing = (target) => target.closest("input:not([type=checkbox]), textarea, select");

  document.addEventListener("change", (event) => {
    if (waiting || !beadForm().contains(event.target)) return;
    remember();
    show();
  });

  document.addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey) || typing(event.target)) return;
    const key = event.key.toLowerCase();
    if (key !== "z" && key !== "y") return;
    event.preventDefault();
    history[key === "y" || event.shiftKey ? "redo" : "undo"]();
  });

  /* Equal shares, the first bears what does not divide. */
  function evenly(numbers) {
    const each = Math.floor(100 / numbers.length);
    write(numbers.map((number, place) => [number, place ? each : 100 - each * (numbers.length - 1)]));
  }

  function paint(button) {
    const there = filled().find((number) => row(number, "colour").value === button.dataset.paint);
    if (there !== undefined) {
      segment = there;
      show();
    } else if (segment !== null && row(segment, "colour").value) {
      row(segment, "colour").value = button.dataset.paint;
      write([]);
    } else {
      const free = rows().find((number) => !row(number, "colour").value);
      if (free === undefined) return;
      row(free, "colour").value = button.dataset.paint;
      evenly(filled());
    }
    say(button.dataset.name);
  }

  const tools = {
    more: () => shift(STEP),
    less: () => shift(-STEP),
    off() {
      row(segment, "colour").value = "";
      row(segment, "share").value = "";
      segment = null;
      if (filled().length) evenly(filled());
      else write([]);
    },
  };

  /* What one colour gains the largest of the others loses. */
  function shift(by) {
    const others = filled().filter((number) => number !== segment);
    const giver = others.sort((one, other) => shareOf(other) - shareOf(one))[0];
    if (giver === undefined || shareOf(segment) + by <= 0 || shareOf(giver) - by <= 0) return;
    // Written as the boxes are: with a comma where one stands in them.
    const comma = filled().some((number) => row(number, "share").value.includes(","));
    const round = (share) => String(Math.round(share * 100) / 100).replace(".", comma ? "," : ".");
    write([[segment, round(shareOf(segment) + by)], [giver, round(shareOf(giver) - by)]]);
  }

  function show() {
    const box = document.querySelector("#bead-bench");
    for (const each of box.querySelectorAll("[data-segment]")) {
      each.setAttribute("aria-pressed", String(Number(each.dataset.segment) === segment));
    }
    const chosen = segment !== null && box.querySelector(`[data-segment="${segment}"]`);
    for (const tool of box.querySelectorAll("[data-bead-tool]")) tool.disabled = !chosen;
    for (const [name, steps] of [["undo", past], ["redo", future]]) {
      const tool = box.querySelector(`[data-bead-history="${name}"]`);
      if (tool) tool.disabled = !steps.length;
    }
  }

  document.addEventListener("click", (event) => {
    const button = event.target.closest("#bead-bench button");
    if (!button) return;
    if (button.dataset.segment) {
      const number = Number(button.dataset.segment);
      segment = segment === number ? null : number;
      show();
    } else if (button.dataset.paint) paint(button);
    else if (button.dataset.beadHistory) history[button.dataset.beadHistory]();
    else if (button.dataset.beadTool) tools[button.dataset.beadTool]();
    else if (button.dataset.pattern) {
      beadForm().elements.pattern.value = button.dataset.pattern;
      write([]);
    }
  });

  /* The button that was pressed is made anew with the picture; it keeps the focus. */
  let focused = "";
  document.addEventListener("htmx:beforeSwap", (event) => {
    if (event.target.id !== "bead-bench") return;
    const here = document.activeElement;
    const [name] = event.target.contains(here) ? Object.keys(here.dataset) : [];
    const attribute = name && name.replace(/[A-Z]/g, (letter) => `-${letter.toLowerCase()}`);
    focused = name ? `[data-${attribute}="${here.dataset[name]}"]` : "";
  });
  document.addEventListener("htmx:afterSwap", (event) => {
    if (event.target.id !== "bead-bench") return;
    show();
    const again = focused && event.target.querySelector(focused);
    if (again) again.focus();
  });
}
