/* The design bench: a strand is laid on its drawing, by mouse, finger, pen or keyboard. Every change
   is written into the boxes of the form, as if it had been typed there, and the workshop draws and
   costs what stands in them. Without this script the boxes and the palette's buttons do the same. */
"use strict";

const MOST_PARTS = 60; // as the form takes
const MOST_STEPS = 200; // that can be undone
const FAR_PX = 6; // a hand trembles; less than this is a click
const HOLD_MS = 280; // a finger that rests takes hold; one that moves on scrolls
const FIELDS = ["what", "count", "role"];
const form = document.querySelector("form[data-bench]");

if (form) {
  const drawing = form.querySelector("#bench-drawing");
  const rows = form.querySelector(".part-rows");
  const model = form.querySelector("[data-part-row]");
  const kept = `bench ${location.pathname}${location.search}`;
  let chosen = null; // { place, at }: which piece of the parts, and where on the cord it was met
  let past = [];
  let future = [];
  let now = null; // the form as it was last taken down
  let held = null; // what is being carried
  let begun = null; // what a finger or the mouse may be about to carry

  /* --- words -------------------------------------------------------------------------------- */

  function say(name, of = "") {
    const words = form.getAttribute(`data-said-${name}`) || "";
    form.querySelector("[data-said]").textContent = words.replace("{name}", of);
  }

  const nameOf = (what) => {
    const thing = form.querySelector(`[data-put="${what}"]`);
    if (thing) return thing.dataset.name;
    const option = rows.querySelector(`option[value="${what}"]`);
    return option ? option.textContent : "";
  };

  /* --- the parts: as boxes of the form, and as single pieces -------------------------------- */

  const box = (index, field) => form.elements[`part${index}-${field}`];
  const countOf = (text) => Math.min(5000, Math.max(1, parseInt(text, 10) || 1));

  /* Every piece by itself, in the order of the parts. */
  function pieces() {
    const found = [];
    for (let index = 0; index < rows.children.length; index += 1) {
      const [what, count, role] = FIELDS.map((field) => box(index, field).value);
      if (!what) continue;
      for (let nth = countOf(count); nth > 0; nth -= 1) found.push({ what, role });
    }
    return found;
  }

  /* Pieces that follow each other and are alike make one part. */
  function asParts(list) {
    const parts = [];
    for (const { what, role } of list) {
      const last = parts[parts.length - 1];
      if (last && last.what === what && last.role === role && !ticked("graduated")) last.count += 1;
      else parts.push({ what, role, count: 1 });
    }
    return parts;
  }

  function writeParts(parts) {
    rows.replaceChildren(
      ...parts.map((part, index) => {
        const copy = document.createElement("ol");
        copy.innerHTML = model.innerHTML.replaceAll("part#", `part${index}`)
          .replaceAll(":#", `:${index}`).replaceAll("#n", index + 1);
        const row = copy.firstElementChild;
        for (const field of FIELDS) {
          row.querySelector(`[name="part${index}-${field}"]`).value = part[field];
        }
        row.querySelector("[value^='part-up']").disabled = index === 0;
        row.querySelector("[value^='part-down']").disabled = index === parts.length - 1;
        return row;
      }),
    );
    form.elements.rows_of_parts.value = parts.length;
  }

  function readParts() {
    return [...rows.children].map((_row, index) =>
      Object.fromEntries(FIELDS.map((field) => [field, box(index, field).value])));
  }

  /* Writes the pieces into the boxes; the one at `place` is chosen then. False where too many. */
  function lay(list, place) {
    const parts = asParts(list);
    if (parts.length > MOST_PARTS) {
      say("full");
      return false;
    }
    writeParts(parts.length ? parts : [{ what: "", count: 1, role: "repeat" }]);
    chosen = place === null || !list.length ? null : { place, at: chosen ? chosen.at : null };
    changed();
    return true;
  }

  const ticked = (name) => form.elements[name].checked;
  const isCentre = (piece) => piece.role === "centre";
  const endOf = (list) => {
    const centre = list.findIndex(isCentre);
    return centre < 0 ? list.length : centre;
  };

  /* Where the repeated pattern begins and ends; both the same where nothing is repeated. */
  function pattern(list) {
    const first = list.findIndex((piece) => piece.role === "repeat");
    if (first < 0) return [endOf(list), endOf(list)];
    return [first, list.findLastIndex((piece) => piece.role === "repeat") + 1];
  }

  /* --- history ------------------------------------------------------------------------------ */

  const left = new Set(["csrfmiddlewaretoken", "form_key", "do"]);
  const taken = () => JSON.stringify([...new FormData(form)].filter(([name]) => !left.has(name)));

  function remember() {
    const state = taken();
    if (state === now) return;
    past.push(now);
    if (past.length > MOST_STEPS) past.shift();
    future = [];
    now = state;
    showTools();
  }

  function restore(state) {
    const said = JSON.parse(state);
    const values = new Map(said);
    const many = parseInt(values.get("rows_of_parts"), 10) || 0;
    writeParts([...Array(many).keys()].map((index) =>
      Object.fromEntries(FIELDS.map((field) => [field, values.get(`part${index}-${field}`)]))));
    for (const each of form.elements) {
      if (!each.name || left.has(each.name) || /^part\d/.test(each.name)) continue;
      if (each.type === "checkbox") each.checked = values.has(each.name);
      else if (values.has(each.name)) each.value = values.get(each.name);
    }
    now = state;
    redraw();
  }

  function step(from, onto, words) {
    if (!from.length) return;
    onto.push(now);
    restore(from.pop());
    say(words);
  }

  function changed() {
    remember();
    redraw();
  }

  function redraw() {
    showTools();
    drawing.dispatchEvent(new CustomEvent("bench", { bubbles: true }));
  }

  /* What was laid can be undone even after the workshop has refused to save it. */
  form.addEventListener("submit", () => {
    sessionStorage.setItem(kept, JSON.stringify({ past, future }));
  });

  /* --- the cord ----------------------------------------------------------------------------- */

  const onCord = () => [...drawing.querySelectorAll(".piece")];
  const placeOf = (piece) => Number(piece.dataset.place);
  const atOf = (piece) => Number(piece.dataset.at);
  const chosenPiece = () => drawing.querySelector('.piece[aria-selected="true"]');

  /* Shows which piece is chosen; of those that are laid more than once the nearest to before. */
  function showChosen(focus = false) {
    const every = onCord();
    for (const piece of every) {
      piece.setAttribute("aria-selected", "false");
      piece.setAttribute("tabindex", "-1");
    }
    const alike = chosen ? every.filter((piece) => placeOf(piece) === chosen.place) : [];
    const away = (piece) => Math.abs(atOf(piece) - (chosen.at ?? 0));
    const found = alike.sort((one, other) => away(one) - away(other))[0];
    if (found) {
      found.setAttribute("aria-selected", "true");
      chosen.at = atOf(found);
      if (focus) found.focus({ preventScroll: true });
      bringIntoSight(found);
    } else if (chosen && !pieces()[chosen.place]) {
      chosen = null; // else the drawing that shows it is still on its way
    }
    const stop = found || every[0];
    if (stop) stop.setAttribute("tabindex", "0");
    showTools();
  }

  /* Only the cord is slid, never the page. */
  function bringIntoSight(piece) {
    const cord = piece.closest("[data-cord]");
    const [mine, room] = [piece.getBoundingClientRect(), cord.getBoundingClientRect()];
    if (mine.left < room.left) cord.scrollLeft -= room.left - mine.left + 40;
    if (mine.right > room.right) cord.scrollLeft += mine.right - room.right + 40;
  }

  function choose(piece, focus = true) {
    chosen = { place: placeOf(piece), at: atOf(piece) };
    showChosen(focus);
    say("chosen", piece.getAttribute("aria-label"));
  }

  function showTools() {
    const list = pieces();
    const piece = chosen ? list[chosen.place] : null;
    for (const tool of form.querySelectorAll("[data-of-piece]")) tool.disabled = !piece;
    const press = (name, on) => {
      form.querySelector(`[data-tool="${name}"]`).setAttribute("aria-pressed", String(Boolean(on)));
    };
    press("repeat", piece && piece.role === "repeat");
    press("middle", piece && isCentre(piece));
    press("mirror", ticked("mirrored"));
    press("graduate", ticked("graduated"));
    form.querySelector('[data-tool="undo"]').disabled = !past.length;
    form.querySelector('[data-tool="redo"]').disabled = !future.length;
    for (const size of form.querySelectorAll("[data-worn]")) {
      const on = form.elements.worn_at.value === size.dataset.worn
        && parseFloat(form.elements.around_mm.value) === parseFloat(size.dataset.around);
      size.setAttribute("aria-pressed", String(on));
    }
  }

  /* --- what can be done --------------------------------------------------------------------- */

  /* A piece is put before `index` of the list, laid as what it stands beside. */
  function putAt(list, index, what, beside) {
    const role = beside && !isCentre(beside) ? beside.role : (list[endOf(list) - 1] || { role: "repeat" }).role;
    const place = Math.min(index, endOf(list));
    list.splice(place, 0, { what, role });
    return place;
  }

  function put(what, target = null) {
    const list = pieces();
    const beside = target ? list[target.beside] : chosen ? list[chosen.place] : null;
    const index = target ? target.index : chosen ? chosen.place + 1 : pattern(list)[1];
    if (lay(list, putAt(list, index, what, beside || list[index - 1]))) say("put", nameOf(what));
  }

  function move(from, target) {
    const list = pieces();
    const beside = list[target.beside];
    const [piece] = list.splice(from, 1);
    if (beside === piece) return;
    const index = target.index > from ? target.index - 1 : target.index;
    if (lay(list, putAt(list, index, piece.what, beside))) say("moved", nameOf(piece.what));
  }

  /* On the mirrored half the parts run from the middle outwards. */
  const runsBack = (piece) =>
    (ticked("mirrored") || ticked("graduated")) && atOf(piece) > (drawnCount() - 1) / 2;
  const drawnCount = () => Math.max(0, ...onCord().map((piece) => atOf(piece) + 1));

  function shift(side) {
    const piece = chosenPiece();
    if (!piece) return say("none");
    const list = pieces();
    const every = onCord();
    const beside = every[every.indexOf(piece) + side];
    const from = chosen.place;
    const onto = beside ? placeOf(beside) : from;
    const name = nameOf(list[from].what);
    if (onto === from || isCentre(list[from]) || isCentre(list[onto])) return say("stays", name);
    [list[from], list[onto]] = [
      { what: list[onto].what, role: list[from].role },
      { what: list[from].what, role: list[onto].role },
    ];
    chosen.at += side;
    if (lay(list, onto)) say("moved", name);
    return undefined;
  }

  const acts = {
    left: () => shift(-1),
    right: () => shift(1),
    more(list, place) {
      list.splice(place + 1, 0, { ...list[place], role: isCentre(list[place]) ? "centre" : list[place].role });
      if (lay(list, place + 1)) say("more", nameOf(list[place].what));
    },
    off(list, place) {
      const [gone] = list.splice(place, 1);
      lay(list, list.length ? Math.min(place, list.length - 1) : null);
      say("off", nameOf(gone.what));
    },
    repeat(list, place) {
      const [piece] = list.splice(place, 1);
      const [first, end] = pattern(list);
      const once = piece.role === "repeat";
      piece.role = once ? "once" : "repeat";
      // The pattern stays in one row: what leaves or joins it stands at its nearer end.
      const onto = place - first <= end - place ? first : end;
      list.splice(onto, 0, piece);
      if (lay(list, onto)) say(once ? "once" : "repeat", nameOf(piece.what));
    },
    middle(list, place) {
      const [piece] = list.splice(place, 1);
      const once = isCentre(piece);
      for (const each of list) if (isCentre(each)) each.role = "once";
      list.push({ what: piece.what, role: once ? "once" : "centre" });
      if (!once && !ticked("graduated")) form.elements.mirrored.checked = true;
      if (lay(list, list.length - 1)) say(once ? "once" : "middle", nameOf(piece.what));
    },
    mirror: (list) => tick(list, "mirrored", "mirror"),
    graduate: (list) => tick(list, "graduated", "graduate"),
    turn(list) {
      const end = endOf(list);
      const turned = [...list.slice(0, end).reverse(), ...list.slice(end)];
      const place = chosen && chosen.place < end ? end - 1 - chosen.place : chosen && chosen.place;
      if (lay(turned, place)) say("turned");
    },
    undo: () => step(past, future, "undone"),
    redo: () => step(future, past, "redone"),
  };

  function tick(list, name, words) {
    const on = !ticked(name);
    form.elements[name].checked = on;
    // What stands in the middle of a strand that has none stands once.
    if (!ticked("mirrored") && !ticked("graduated")) {
      for (const each of list) if (isCentre(each)) each.role = "once";
    }
    if (lay(list, chosen ? chosen.place : null)) say(on ? words : `un${words}`);
  }

  function act(name) {
    const list = pieces();
    const place = chosen ? chosen.place : null;
    const tool = form.querySelector(`[data-tool="${name}"]`);
    if (tool.hasAttribute("data-of-piece") && (place === null || !list[place])) return say("none");
    return acts[name](list, place);
  }

  function madeToSize(size) {
    form.elements.worn_at.value = size.dataset.worn;
    form.elements.around_mm.value = size.dataset.around;
    form.elements.finished_mm.value = "";
    changed();
    say("size", size.dataset.name);
  }

  /* The buttons of the list of parts, done here so that nothing that was typed leaves the page. */
  function moveRow(words) {
    const [name, key] = words.split(":");
    const parts = readParts();
    const here = Number(key);
    if (name === "part-add" && parts.length < MOST_PARTS) {
      parts.push({ what: "", count: 1, role: parts.length ? parts[parts.length - 1].role : "repeat" });
    } else if (name === "part-drop") parts.splice(here, 1);
    else if (name === "part-up") parts.splice(here - 1, 0, ...parts.splice(here, 1));
    else if (name === "part-down") parts.splice(here + 1, 0, ...parts.splice(here, 1));
    writeParts(parts);
    changed();
    const there = name === "part-up" ? here - 1 : name === "part-down" ? here + 1 : Math.min(here || parts.length - 1, parts.length - 1);
    const next = rows.children[name === "part-add" ? parts.length - 1 : there];
    const same = next && next.querySelector(name === "part-add" ? "input" : `[value^="${name}"]:enabled`);
    if (same) same.focus();
  }

  form.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    const piece = event.target.closest(".piece");
    if (piece) return choose(piece);
    if (!button) return undefined;
    if (button.dataset.tool) return act(button.dataset.tool);
    if (button.dataset.worn) return madeToSize(button);
    if (button.hasAttribute("data-narrow-colour")) return narrow(button);
    if (button.dataset.put) {
      event.preventDefault();
      return put(button.dataset.put);
    }
    if (button.name === "do" && button.value.startsWith("part-")) {
      event.preventDefault();
      return moveRow(button.value);
    }
    return undefined;
  });

  form.addEventListener("change", (event) => {
    if (event.target.matches(".palette-find")) return;
    // What was typed in the list of parts may leave the chosen piece behind.
    if (/^part\d/.test(event.target.name)) chosen = null;
    remember();
    showTools();
  });

  /* --- keyboard ----------------------------------------------------------------------------- */

  const typing = (target) => target.closest("input:not([type=checkbox]), textarea, select");

  document.addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey) || typing(event.target)) return;
    const key = event.key.toLowerCase();
    if (key !== "z" && key !== "y") return;
    event.preventDefault();
    act(key === "y" || event.shiftKey ? "redo" : "undo");
  });

  form.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.target.closest(".piece")) keyOnCord(event);
    else if (event.target.closest("[data-put]")) keyOnPalette(event);
  });

  const SIDES = { ArrowLeft: -1, ArrowRight: 1 };

  function keyOnCord(event) {
    const every = onCord();
    const here = every.indexOf(event.target.closest(".piece"));
    if (event.key in SIDES) {
      event.preventDefault();
      const side = SIDES[event.key];
      if (event.shiftKey) {
        if (!chosenPiece()) choose(every[here]);
        return shift(side);
      }
      const from = chosenPiece() ? here + side : here;
      return every[from] ? choose(every[from]) : undefined;
    }
    const name = { Delete: "off", Backspace: "off", "+": "more" }[event.key];
    if (name) {
      event.preventDefault();
      if (!chosenPiece()) choose(every[here]);
      return act(name);
    }
    if (event.key === "Home" || event.key === "End") {
      event.preventDefault();
      return choose(event.key === "Home" ? every[0] : every[every.length - 1]);
    }
    if (event.key === " ") {
      event.preventDefault();
      return choose(every[here]);
    }
    if (event.key === "Enter") {
      event.preventDefault();
      if (!chosenPiece()) choose(every[here]);
      const first = form.querySelector('[data-put][tabindex="0"]') || form.querySelector("[data-put]");
      if (first) first.focus();
    }
    return undefined;
  }

  const shownThings = () => [...form.querySelectorAll("[data-put]")].filter((each) => !each.closest("[hidden]"));

  /* One of the palette stands in the way of Tab; arrows lead to the others. */
  function stopAt(thing) {
    for (const each of form.querySelectorAll("[data-put]")) each.tabIndex = each === thing ? 0 : -1;
  }

  function keyOnPalette(event) {
    const every = shownThings();
    const here = every.indexOf(event.target.closest("[data-put]"));
    const across = every.filter((each) => each.offsetTop === every[0].offsetTop).length;
    const steps = { ArrowLeft: -1, ArrowRight: 1, ArrowUp: -across, ArrowDown: across };
    if (event.key in steps) {
      event.preventDefault();
      const next = every[here + steps[event.key]];
      if (!next) return;
      stopAt(next);
      next.focus();
    } else if (event.key === "Escape") {
      const stop = drawing.querySelector('.piece[tabindex="0"]');
      if (stop) stop.focus();
    }
  }

  /* --- the palette narrowed ----------------------------------------------------------------- */

  function narrow(button) {
    for (const each of form.querySelectorAll("[data-narrow-colour]")) {
      each.setAttribute("aria-pressed", String(each === button));
    }
    showThings();
  }

  function showThings() {
    const find = form.querySelector("[data-narrow-words]");
    const words = find ? find.value.toLocaleLowerCase().split(/\s+/) : [];
    const on = form.querySelector('[data-narrow-colour][aria-pressed="true"]');
    const colour = on ? on.dataset.narrowColour : "";
    for (const thing of form.querySelectorAll("[data-put]")) {
      const name = thing.dataset.name.toLocaleLowerCase();
      const fits = words.every((word) => name.includes(word))
        && (!colour || thing.dataset.colours.includes(` ${colour} `));
      thing.parentElement.hidden = !fits;
    }
    stopAt(shownThings()[0]);
  }

  form.addEventListener("input", (event) => {
    if (event.target.matches("[data-narrow-words]")) showThings();
  });
  form.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && event.target.matches("[data-narrow-words]")) event.preventDefault();
  });

  /* --- carried by mouse, finger or pen ------------------------------------------------------ */

  /* Where something would be put: beside which piece, and before which of the list. */
  function targetAt(x, y) {
    const cord = drawing.querySelector("[data-cord]");
    const room = cord.getBoundingClientRect();
    if (y < room.top - 30 || y > room.bottom + 30 || x < room.left - 20 || x > room.right + 20) return null;
    const middle = (piece) => {
      const mine = piece.querySelector("use").getBoundingClientRect();
      return mine.left + mine.width / 2;
    };
    let nearest = null;
    let away = Infinity;
    for (const piece of onCord()) {
      const far = Math.abs(middle(piece) - x);
      if (far < away) [nearest, away] = [piece, far];
    }
    if (!nearest) return { beside: -1, index: 0, edge: room.left + room.width / 2 };
    const after = x > middle(nearest);
    const mine = nearest.querySelector("use").getBoundingClientRect();
    return {
      beside: placeOf(nearest),
      index: placeOf(nearest) + (after === !runsBack(nearest) ? 1 : 0),
      edge: after ? mine.right : mine.left,
      at: atOf(nearest),
    };
  }

  function takeHold() {
    const { element } = begun;
    held = begun;
    begun = null;
    const picture = element.matches(".piece") ? pictureOf(element) : element.querySelector("svg").cloneNode(true);
    held.ghost = document.createElement("div");
    held.ghost.className = "bench-ghost";
    held.ghost.setAttribute("aria-hidden", "true");
    held.ghost.append(picture);
    held.mark = document.createElement("div");
    held.mark.className = "bench-mark";
    held.mark.hidden = true;
    document.body.append(held.ghost, held.mark);
    form.classList.add("carrying");
    if (navigator.vibrate && held.finger) navigator.vibrate(8);
    carry(held.x, held.y);
  }

  /* The piece by itself, as large as it is drawn. */
  function pictureOf(piece) {
    const picture = document.createElementNS("http://www.w3.org/2000/svg", "svg");
    const bead = piece.querySelector("use");
    const around = bead.getBBox();
    const size = bead.getScreenCTM().a || 1;
    picture.setAttribute("viewBox", `${around.x} ${around.y} ${around.width} ${around.height}`);
    picture.setAttribute("width", around.width * size);
    picture.setAttribute("height", around.height * size);
    picture.append(bead.cloneNode());
    return picture;
  }

  function carry(x, y) {
    held.ghost.style.transform = `translate(${x}px, ${y}px)`;
    held.target = targetAt(x, y);
    held.mark.hidden = !held.target;
    if (held.target) {
      const room = drawing.querySelector("[data-cord]").getBoundingClientRect();
      held.mark.style.transform = `translate(${held.target.edge}px, ${room.top}px)`;
      held.mark.style.height = `${room.height}px`;
    }
  }

  function letGo() {
    if (begun) clearTimeout(begun.timer);
    begun = null;
    if (!held) return;
    held.ghost.remove();
    held.mark.remove();
    form.classList.remove("carrying");
    held = null;
  }

  form.addEventListener("pointerdown", (event) => {
    const element = event.target.closest(".piece, [data-put]");
    if (!element || event.button !== 0 || held) return;
    const finger = event.pointerType === "touch";
    begun = { element, finger, x: event.clientX, y: event.clientY, pointer: event.pointerId };
    if (finger) begun.timer = setTimeout(() => begun && takeHold(), HOLD_MS);
  });

  document.addEventListener("pointermove", (event) => {
    const mine = held || begun;
    if (!mine || mine.pointer !== event.pointerId) return;
    const far = Math.hypot(event.clientX - mine.x, event.clientY - mine.y) >= FAR_PX;
    if (held) carry(event.clientX, event.clientY);
    else if (far && begun.finger) letGo(); // it scrolls
    else if (far) takeHold();
    if (held && !held.finger) getSelection().removeAllRanges();
  });

  document.addEventListener("pointerup", (event) => {
    if (!held || held.pointer !== event.pointerId) return letGo();
    const { element, target } = held;
    letGo();
    // The click that follows is the end of the carrying.
    const still = (click) => {
      click.preventDefault();
      click.stopPropagation();
    };
    addEventListener("click", still, { capture: true, once: true });
    setTimeout(() => removeEventListener("click", still, { capture: true }), 0);
    const name = element.dataset.name || element.getAttribute("aria-label");
    if (!target) return say("stopped", name);
    if (chosen && target.at !== undefined) chosen.at = target.at;
    return element.dataset.put ? put(element.dataset.put, target) : move(placeOf(element), target);
  });

  document.addEventListener("pointercancel", letGo);
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape") letGo();
  });
  // While something is carried the page does not scroll under the finger.
  form.addEventListener("touchmove", (event) => {
    if (held) event.preventDefault();
  }, { passive: false });
  form.addEventListener("contextmenu", (event) => {
    if ((held || begun) && event.target.closest(".piece, [data-put]")) event.preventDefault();
  });
  form.addEventListener("dragstart", (event) => event.preventDefault());

  /* --- beginning ---------------------------------------------------------------------------- */

  document.addEventListener("htmx:afterSwap", (event) => {
    if (event.target !== drawing) return;
    showChosen(drawing.dataset.focused === "yes");
  });
  // A drawing that is replaced takes the focus with it; it is given back to the chosen piece.
  document.addEventListener("htmx:beforeSwap", (event) => {
    if (event.target === drawing) {
      drawing.dataset.focused = drawing.contains(document.activeElement) ? "yes" : "no";
    }
  });

  for (const each of form.querySelectorAll("[data-with-script]")) each.hidden = false;
  const list = form.querySelector("[data-parts]");
  if (!list.querySelector(".wrong")) list.open = false;
  if (form.hasAttribute("data-refused")) {
    ({ past, future } = JSON.parse(sessionStorage.getItem(kept) || '{"past": [], "future": []}'));
  }
  sessionStorage.removeItem(kept);
  now = taken();
  if (form.querySelector("[data-put]")) stopAt(shownThings()[0]);
  showChosen();
}
