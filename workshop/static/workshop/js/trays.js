/* Trays are carried from load to load by mouse, finger, pen or keyboard. Dropping one asks the
   workshop what that would do and shows it; nothing is moved until the keeper says so. Without
   this script every tray is a link to a form that does the same. */
"use strict";

(() => {
  const FAR_PX = 6; // a hand trembles; less than this is a click
  const EDGE_PX = 72; // near the edge of the screen the page runs on
  let held = null; // { tray, load, over, x, y, moved, pointer }

  const board = () => document.querySelector("[data-tray-board]");
  const seen = (element) => element.checkVisibility() && element.getClientRects().length > 0;
  const hrefOf = (tray) => new URL(tray.getAttribute("href"), location.href);
  const loadOf = (tray) => tray.dataset.of || tray.closest("[data-load]").dataset.load;
  const every = (load) => document.querySelectorAll(`[data-load="${load}"]`);
  const shown = (load) => [...every(load)].find(seen);

  /* Keys of the loads in sight, in the order of the page: curves of the picture, then cards. */
  const loads = () => [
    ...new Set([...document.querySelectorAll("[data-load]")].filter(seen).map((each) => each.dataset.load)),
  ];

  function say(name, words = {}) {
    const said = document.querySelector("[data-tray-said]");
    if (!said) return;
    let text = said.getAttribute(`data-said-${name}`) || "";
    for (const [key, value] of Object.entries(words)) text = text.replace(`{${key}}`, value);
    said.textContent = text;
  }

  function loadAt(x, y) {
    const under = document.elementFromPoint(x, y);
    if (!under) return null;
    const over = under.closest("[data-load]");
    if (over) return over.dataset.load;
    const dots = under.closest("[data-of]");
    return dots ? dots.dataset.of : null;
  }

  function showOver(load) {
    for (const each of document.querySelectorAll("[data-load]")) {
      each.classList.toggle("over", each.dataset.load === load);
    }
    held.over = load;
  }

  function letGo() {
    if (!held) return;
    held.tray.classList.remove("held");
    held.tray.style.removeProperty("transform");
    held.tray.removeAttribute("aria-grabbed");
    board().classList.remove("carrying");
    for (const each of document.querySelectorAll(".over")) each.classList.remove("over");
    held = null;
  }

  function pickUp(tray) {
    held = { tray, load: loadOf(tray), over: null, moved: false };
    tray.classList.add("held");
    board().classList.add("carrying");
  }

  function ask(tray, load) {
    const url = hrefOf(tray);
    url.searchParams.set("to", load);
    url.searchParams.set("moulds", tray.dataset.moulds);
    if (load === "new") {
      location.assign(url); // a new load wants a kiln and a time: the form asks for them
      return;
    }
    say("asked", { load: shown(load).dataset.said });
    url.searchParams.set("back", "board");
    fetch(url, { headers: { "HX-Request": "true" }, credentials: "same-origin" })
      .then((answer) => (answer.status < 500 && !answer.redirected ? answer.text() : null))
      .then((page) => (page === null ? location.assign(hrefOf(tray)) : show(page, tray)))
      .catch(() => say("failed"));
  }

  function show(page, tray) {
    const dialog = document.querySelector("[data-tray-dialog]");
    dialog.querySelector("[data-tray-preview]").innerHTML = page;
    dialog.addEventListener("close", () => tray.focus(), { once: true });
    dialog.showModal();
    const first = dialog.querySelector("[data-focus]") || dialog.querySelector("[data-tray-leave]");
    if (first) first.focus();
  }

  /* --- mouse, finger, pen ------------------------------------------------------------------ */

  document.addEventListener("pointerdown", (event) => {
    const tray = event.target.closest("[data-tray]");
    if (!tray || event.button !== 0 || held) return;
    // A finger anywhere else on the tray scrolls the page; only the grip takes hold of it.
    if (event.pointerType === "touch" && !event.target.closest("[data-grip]")) return;
    pickUp(tray);
    Object.assign(held, { x: event.clientX, y: event.clientY + scrollY, pointer: event.pointerId });
    tray.setPointerCapture(event.pointerId);
  });

  document.addEventListener("pointermove", (event) => {
    if (!held || held.pointer !== event.pointerId) return;
    const right = event.clientX - held.x;
    const down = event.clientY + scrollY - held.y;
    if (!held.moved && Math.hypot(right, down) < FAR_PX) return;
    held.moved = true;
    if (event.clientY < EDGE_PX) scrollBy(0, -12);
    if (event.clientY > innerHeight - EDGE_PX) scrollBy(0, 12);
    // Inside a drawing a pixel is one of its own, however large it is shown.
    const drawing = held.tray.ownerSVGElement;
    const size = drawing ? drawing.getScreenCTM().a : 1;
    held.tray.style.transform = `translate(${right / size}px, ${down / size}px)`;
    showOver(loadAt(event.clientX, event.clientY));
  });

  document.addEventListener("pointerup", (event) => {
    if (!held || held.pointer !== event.pointerId) return;
    const { tray, load, over, moved } = held;
    letGo();
    if (!moved) return;
    addEventListener("click", keepStill, { capture: true, once: true });
    setTimeout(() => removeEventListener("click", keepStill, { capture: true }), 0);
    if (over && over !== load) ask(tray, over);
  });

  function keepStill(event) {
    event.preventDefault();
    event.stopPropagation();
  }

  document.addEventListener("pointercancel", letGo);
  document.addEventListener("dragstart", (event) => {
    if (event.target.closest && event.target.closest("[data-tray]")) event.preventDefault();
  });

  /* --- keyboard ---------------------------------------------------------------------------- */

  const STEPS = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 };

  document.addEventListener("keydown", (event) => {
    const tray = event.target.closest && event.target.closest("[data-tray]");
    if (!held && tray && event.key === " ") {
      event.preventDefault();
      pickUp(tray);
      tray.setAttribute("aria-grabbed", "true");
      showOver(held.load);
      say("picked", { tray: tray.dataset.said });
      return;
    }
    if (!held || held.pointer !== undefined) return;
    if (event.key in STEPS) {
      event.preventDefault();
      const all = loads();
      const at = all.indexOf(held.over);
      const next = all[(at + STEPS[event.key] + all.length) % all.length];
      showOver(next);
      shown(next).scrollIntoView({ block: "nearest", inline: "nearest" });
      say("over", { load: shown(next).dataset.said });
    } else if (event.key === "Enter" || event.key === " ") {
      event.preventDefault();
      const { tray: chosen, load, over } = held;
      letGo();
      if (over && over !== load) ask(chosen, over);
      else say("left", { tray: chosen.dataset.said });
    } else if (event.key === "Escape" || event.key === "Tab") {
      const left = held.tray.dataset.said;
      letGo();
      say("left", { tray: left });
    }
  });

  document.addEventListener("click", (event) => {
    if (event.target.closest("[data-tray-leave]")) event.target.closest("dialog").close();
  });
})();
