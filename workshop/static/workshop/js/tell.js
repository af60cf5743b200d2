/* A short text goes out by the telephone's own sheet, or is copied. Pages work without it. */
"use strict";

for (const form of document.querySelectorAll("form[data-tell]")) {
  const text = form.querySelector("textarea");
  const to = form.querySelector("input[type='tel']");
  const sms = form.querySelector("[data-sms]");
  const share = form.querySelector("[data-share]");
  const copy = form.querySelector("[data-copy]");

  /* RFC 5724: the number in its international form, then the body. */
  const follow = () => {
    const number = to.value.replace(/[^\d+]/g, "");
    sms.hidden = !/^\+\d{5,15}$/.test(number);
    sms.href = `sms:${number}?body=${encodeURIComponent(text.value)}`;
  };
  form.addEventListener("input", follow);

  if (navigator.share) {
    share.hidden = false;
    share.addEventListener("click", () => navigator.share({ text: text.value }).catch(() => {}));
  }
  copy.hidden = false;
  copy.addEventListener("click", async () => {
    text.select();
    try {
      await navigator.clipboard.writeText(text.value);
    } catch {
      document.execCommand("copy"); // over plain HTTP the clipboard is closed to scripts
    }
    copy.textContent = copy.dataset.done;
  });
}
