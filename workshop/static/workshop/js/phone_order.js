/* An order written on a phone without a signal: cards, the customer's own prices, and the sum. */
"use strict";

(() => {
  const form = document.getElementById("phone-order");
  if (!form) return;
  const sums = self.keptSums;
  const prices = JSON.parse(form.dataset.prices);
  const sheet = document.getElementById("sheet");
  const fold = (name) => name.trim().replace(/\s+/g, " ").toLocaleLowerCase();
  const named = new Map(prices.people.map((each) => [fold(each.name), each]));

  function show() {
    const who = form.elements.who.value;
    const person = named.get(fold(who));
    form.elements.customer.value = person?.id ?? "";
    form.querySelector("[data-new-name]").hidden = Boolean(person) || !who.trim();
    const list = person?.list ?? prices.groups[form.elements["new-group"].value];
    const stepsOf = (key) => {
      const own = person?.own[key];
      const listed = prices.lists[list]?.[key] ?? [];
      return own ? [...listed.filter(([least]) => least < own[0][0]), ...own] : listed;
    };
    for (const row of form.querySelectorAll(".take")) {
      const each = sums.eachOf(stepsOf(row.id.replace("take-", "")), 1);
      row.querySelector("[data-each]").textContent = each === null ? "" : sums.money(prices, each);
    }
    const lines = sums.linesOf(form, prices, stepsOf);
    sums.tellAlong(form, lines);
    for (const sum of form.querySelectorAll(".take-sum")) sum.textContent = "";
    for (const { row, sum } of lines) {
      row.querySelector(".take-sum").textContent = sum === null ? "" : sums.money(prices, sum);
    }
    const total = sums.totalOf(lines, prices);
    sheet.querySelector(".answer-value").textContent =
      total === null ? "–" : sums.money(prices, total);
    sheet.querySelector("[data-without-tax]").hidden = !prices.taxed || list?.endsWith(" with");
    sheet.querySelector("[data-desk-tells]").hidden = total !== null || lines.length === 0;
  }

  self.onTaps(form, show);
  form.addEventListener("input", show);
  form.addEventListener("change", show);
  addEventListener("phone:refilled", show);
  show();
})();
