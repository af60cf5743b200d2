// Reads a page aloud by the browser's own voice, where there is one: its heading, what just
// happened, its figures and their sentence. Switched on in the page's help, on this device alone.
const KEPT = "aloud";
const TOLD =
  ".messages .message, main h1, .opening .lead, .answer, .next-acts > :first-child .next-what";
const mode = document.querySelector("[data-aloud-mode]");
const again = document.querySelector("[data-aloud]");

function isOn() {
  try {
    return localStorage.getItem(KEPT) === "yes";
  } catch {
    return false; // a browser that keeps nothing
  }
}

function keep(on) {
  try {
    localStorage.setItem(KEPT, on ? "yes" : "no");
  } catch {
    // It holds for this page then.
  }
}

function speak() {
  speechSynthesis.cancel();
  const parts = [...document.querySelectorAll(TOLD)]
    .map((each) => each.innerText.replace(/\s+/g, " ").trim())
    .filter(Boolean);
  const said = new SpeechSynthesisUtterance([...new Set(parts)].join(". "));
  said.lang = document.documentElement.lang;
  speechSynthesis.speak(said);
}

function show() {
  again.hidden = !mode.checked;
}

if (mode && "speechSynthesis" in window) {
  mode.closest("[hidden]").hidden = false;
  mode.checked = isOn();
  show();
  mode.addEventListener("change", () => {
    keep(mode.checked);
    show();
    if (mode.checked) speak();
    else speechSynthesis.cancel();
  });
  again.addEventListener("click", speak);
  // A browser may ask for a tap first; the button beside the question mark is that tap.
  if (mode.checked) speak();
}
