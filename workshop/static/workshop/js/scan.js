/* Reads a code before the camera where the browser can (W3C Shape Detection, BarcodeDetector), and
   opens the page of the thing. Without the desk: the page that the phone kept of it. */
"use strict";

const page = document.getElementById("scan");
if (!page) return;

const LOOK_EVERY_MS = 200;
const picture = page.querySelector("video");
let stream = null;

function say(what) {
  for (const each of page.querySelectorAll("[data-scan]")) {
    each.hidden = each.dataset.scan !== what;
  }
}

function stop() {
  for (const track of stream?.getTracks() ?? []) track.stop();
  stream = null;
  picture.hidden = true;
}

/* Nothing is asked of a code but where it leads; that the desk says. */
function open(code) {
  stop();
  if (navigator.userActivation?.hasBeenActive) navigator.vibrate?.(60);
  location.assign(`${page.dataset.to}?code=${encodeURIComponent(code)}`);
}

async function reader() {
  if (!self.BarcodeDetector || !navigator.mediaDevices) return null;
  const kinds = await BarcodeDetector.getSupportedFormats();
  return kinds.includes("qr_code") ? new BarcodeDetector({ formats: ["qr_code"] }) : null;
}

async function look() {
  const reads = await reader().catch(() => null);
  if (!reads) return say("cannot");
  try {
    stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
  } catch {
    return say("closed");
  }
  picture.srcObject = stream;
  picture.hidden = false;
  await picture.play();
  say("looks");
  while (stream) {
    const [found] = await reads.detect(picture).catch(() => []);
    if (found?.rawValue) return open(found.rawValue);
    await new Promise((done) => setTimeout(done, LOOK_EVERY_MS));
  }
}

/* A code that was read while the desk is out of reach: this is the page as it was kept. */
async function openKept(code) {
  const { person } = document.getElementById("phone-words").dataset;
  const path = URL.canParse(code, location.href) && new URL(code, location.href).pathname;
  if (path && (await self.phoneStore.keptSince(person, path))) return location.replace(path);
  say("away");
}

addEventListener("pagehide", stop);
const code = new URLSearchParams(location.search).get("code");
const outOfReach = document.querySelector(".message.kept");
if (code && outOfReach) openKept(code);
else if (!code) look();
