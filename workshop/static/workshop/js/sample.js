/* A sample on a photograph: a tap sets the point that is chosen and goes on to the next; arrows
   move it; the loupe shows it large. The boxes hold the figures, the desk does the sums. */
"use strict";

const SVG = "http://www.w3.org/2000/svg";
const PAIRS = [["known_a", "known_b"], ["bead_a", "bead_b"]];
const LOUPE = 25; // points of the picture to each side
const FAR = 10; // an arrow with the shift key held

function begin(form) {
  const picture = form.querySelector("[data-picture]");
  const marks = form.querySelector("[data-marks]");
  const near = form.querySelector("[data-near]");
  const loupe = near.querySelector("svg");
  const taps = [...form.querySelectorAll("[data-tap]")];
  const { width, height } = picture.viewBox.baseVal;
  const boxes = (name) => ["x", "y"].map((axis) => form.elements[`${name}_${axis}`]);
  const chosen = () => taps.find((tap) => tap.checked).value;

  function point(name) {
    const [x, y] = boxes(name).map((box) => box.value.trim());
    return /^\d+$/.test(x) && /^\d+$/.test(y) ? [Number(x), Number(y)] : null;
  }

  function add(kind, values, is) {
    const node = document.createElementNS(SVG, kind);
    for (const [name, value] of Object.entries(values)) node.setAttribute(name, value);
    if (is) node.setAttribute("class", is);
    marks.append(node);
  }

  function draw() {
    marks.replaceChildren();
    for (const [one, other] of PAIRS) {
      const [a, b] = [point(one), point(other)];
      if (a && b) add("line", { x1: a[0], y1: a[1], x2: b[0], y2: b[1] });
    }
    for (const { value } of taps) {
      const at = point(value);
      const is = value === chosen() ? "now" : "";
      if (at) add("circle", { cx: at[0], cy: at[1], r: width / 90 }, is);
    }
    const at = point(chosen());
    near.hidden = !at;
    if (!at) return;
    const [x, y] = at;
    loupe.setAttribute("viewBox", `${x - LOUPE} ${y - LOUPE} ${2 * LOUPE} ${2 * LOUPE}`);
    const cross = `M${x - LOUPE} ${y}h${2 * LOUPE}M${x} ${y - LOUPE}v${2 * LOUPE}`;
    loupe.querySelector("path").setAttribute("d", cross);
  }

  function put(name, x, y) {
    const within = (value, most) => String(Math.round(Math.min(Math.max(value, 0), most - 1)));
    const [left, top] = boxes(name);
    left.value = within(x, width);
    top.value = within(y, height);
    draw();
  }

  function nudge(right, down) {
    const [x, y] = point(chosen()) || [width / 2, height / 2];
    put(chosen(), x + right, y + down);
  }

  picture.addEventListener("click", (event) => {
    const at = new DOMPoint(event.clientX, event.clientY);
    const { x, y } = at.matrixTransform(picture.getScreenCTM().inverse());
    const name = chosen();
    const fresh = !point(name);
    put(name, x, y);
    const next = taps[taps.findIndex((tap) => tap.value === name) + 1];
    if (fresh && next && !point(next.value)) {
      next.checked = true;
      draw();
    }
  });

  picture.addEventListener("keydown", (event) => {
    const by = event.shiftKey ? FAR : 1;
    const ways = { ArrowLeft: [-by, 0], ArrowRight: [by, 0], ArrowUp: [0, -by], ArrowDown: [0, by] };
    const way = ways[event.key];
    if (!way) return;
    event.preventDefault();
    nudge(...way);
  });

  for (const button of near.querySelectorAll("[data-nudge]")) {
    button.addEventListener("click", () => nudge(...button.dataset.nudge.split(",").map(Number)));
  }
  form.addEventListener("input", draw);
  picture.setAttribute("tabindex", "0");
  form.querySelector("[data-rules]").remove();
  for (const tap of taps) tap.hidden = false;
  const empty = taps.find((tap) => !point(tap.value));
  if (empty) empty.checked = true;
  draw();
}

for (const form of document.querySelectorAll("[data-sample]")) begin(form);
