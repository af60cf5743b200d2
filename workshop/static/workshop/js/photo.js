/* A photograph is made small before it is sent: a telephone takes one of ten megabytes, and the
   workshop keeps what a page shows. Where a browser cannot, the desk does what it can. */
"use strict";

const LARGE_PX = 1600;
const QUALITY = 0.85;

async function small(file) {
  const bitmap = await createImageBitmap(file, { imageOrientation: "from-image" });
  const scale = Math.min(1, LARGE_PX / Math.max(bitmap.width, bitmap.height));
  const sheet = document.createElement("canvas");
  sheet.width = Math.round(bitmap.width * scale);
  sheet.height = Math.round(bitmap.height * scale);
  const pen = sheet.getContext("2d");
  pen.fillStyle = "white"; // what is see-through lies on white
  pen.fillRect(0, 0, sheet.width, sheet.height);
  pen.drawImage(bitmap, 0, 0, sheet.width, sheet.height);
  bitmap.close();
  return new Promise((done) => sheet.toBlob(done, "image/jpeg", QUALITY));
}

document.addEventListener("change", async (event) => {
  const box = event.target;
  const [file] = (box.matches("input[data-photo]") && box.files) || [];
  if (!file) return;
  const button = box.form.querySelector("button.main");
  button.disabled = true;
  try {
    const made = new DataTransfer();
    made.items.add(new File([await small(file)], "photo.jpg", { type: "image/jpeg" }));
    box.files = made.files;
    document.dispatchEvent(new CustomEvent("photo:made", { detail: box.files[0].size }));
  } catch {
    // No picture that this browser reads: the desk says what it is.
  } finally {
    button.disabled = false;
  }
});
