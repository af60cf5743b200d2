/* Sums on a phone that cannot ask the desk: prices as they were last seen, and nothing guessed.
   Exact: whole millionths, rounded half-up once a line and once for the tax, as the desk does. */
"use strict";

(() => {
  const MILLION = 1000000n;
  const WRITTEN = /^\d{1,9}(\.\d{1,6})?$/;

  /* "12.50" or "12,50" in millionths; null for what cannot be read for certain. */
  function millionths(written) {
    const text = written.trim().replace(/^(\d+),(\d{1,2})$/, "$1.$2");
    if (!WRITTEN.test(text)) return null;
    const [whole, part = ""] = text.split(".");
    return BigInt(whole) * MILLION + BigInt(part.padEnd(6, "0"));
  }

  const halfUp = (amount, unit) => ((amount + unit / 2n) / unit) * unit;

  /* An amount as the desk writes exact ones: without an exponent or needless noughts. */
  function plain(amount) {
    const part = String(amount % MILLION).padStart(6, "0").replace(/0+$/, "");
    return `${amount / MILLION}${part ? `.${part}` : ""}`;
  }

  /* As people read it, in the form that the desk writes money in. */
  function money(prices, amount) {
    const { digits } = prices;
    const written = new Intl.NumberFormat(document.documentElement.lang, {
      minimumFractionDigits: digits,
      maximumFractionDigits: digits,
    }).format(Number(amount) / Number(MILLION));
    return prices.form.replace(/0(?:[^\d\s]0+)?/, written);
  }

  /* The price of one from these steps, for so many; null where the desk has to tell it. */
  function eachOf(steps, count) {
    let found = null;
    for (const [least, price] of steps ?? []) {
      if (least <= count) found = price;
    }
    return found === null ? null : millionths(found);
  }

  /* Lines of a form: key, count, each (null: the desk tells it), sum; wrong: a number not read. */
  function linesOf(form, prices, stepsOf) {
    const unit = 10n ** BigInt(6 - prices.digits);
    const lines = [];
    for (const row of form.querySelectorAll(".take")) {
      const key = row.id.replace("take-", "");
      const written = row.querySelector(`[name="n_${key}"]`).value.trim();
      if (written === "" || written === "0") continue;
      const count = /^\d{1,6}$/.test(written) ? Number(written) : null;
      const own = row.querySelector(`[name="p_${key}"]`).value.trim();
      const listed = count === null ? null : eachOf(stepsOf(key), count);
      const each = own ? millionths(own) : listed;
      const name = row.querySelector(".card-name").textContent.trim();
      const sum = count === null || each === null ? null : halfUp(BigInt(count) * each, unit);
      lines.push({ key, name, count, each, listed: own ? null : listed, sum, row });
    }
    return lines;
  }

  /* What all of it comes to, tax added where prices are told without; null where one is missing. */
  function totalOf(lines, prices) {
    if (lines.length === 0 || lines.some((line) => line.sum === null)) return null;
    const net = lines.reduce((total, line) => total + line.sum, 0n);
    const unit = 10n ** BigInt(6 - prices.digits);
    return net + halfUp((net * millionths(prices.tax)) / MILLION, unit);
  }

  /* What each was told at goes along, so that the desk can say where it is another. */
  function tellAlong(form, lines) {
    for (const old of form.querySelectorAll("[name^='told_']")) old.remove();
    for (const { key, listed } of lines) {
      if (listed === null) continue;
      const box = Object.assign(document.createElement("input"), { type: "hidden" });
      Object.assign(box, { name: `told_${key}`, value: plain(listed) });
      form.append(box);
    }
  }

  /* A tap on a card or beside its box: one more or one fewer, in the box at once. */
  function onTaps(form, changed) {
    document.addEventListener("click", (event) => {
      const button = event.target.closest("button[data-more]");
      if (!button || !form.contains(button)) return;
      const box = button.closest(".take").querySelector("input[data-number]");
      const text = box.value.trim();
      if (text !== "" && !/^\d+$/.test(text)) return; // "1 dozen": the workshop's computer counts on
      event.preventDefault();
      box.value = String(Math.max(0, Number(text) + Number(button.dataset.more)) || "");
      changed();
    });
  }

  self.keptSums = { linesOf, totalOf, tellAlong, eachOf, money, plain };
  self.onTaps = onTaps;
})();
