"use strict";
// Every sentence the page says, from the catalogue file it was made with; numbers and dates by its locale.
const KerfbookWords = (() => {
  const page = JSON.parse(document.getElementById("page-data").textContent);
  const { locale } = page.words;
  const plurals = new Intl.PluralRules(locale);
  const numbers = new Intl.NumberFormat(locale, { maximumFractionDigits: 2 });
  const bare = new Intl.NumberFormat(locale, { maximumFractionDigits: 0, useGrouping: false });
  const shares = new Intl.NumberFormat(locale, { style: "percent" });
  const degrees = new Intl.NumberFormat(locale, { minimumFractionDigits: 6, maximumFractionDigits: 6 });
  const dates = new Intl.DateTimeFormat(locale, { timeZone: "UTC", day: "numeric", month: "long", year: "numeric" });
  const shortDates = new Intl.DateTimeFormat(locale, { timeZone: "UTC", day: "numeric", month: "short", year: "numeric" });
  const DAY = 86400000;

  const number = (value) => numbers.format(value);
  // A whole number where there is little room.
  const short = (value) => bare.format(value);
  const percent = (share) => shares.format(share);
  const degree = (value) => degrees.format(value);
  const date = (day) => dates.format(new Date(day * DAY));
  const shortDate = (day) => shortDates.format(new Date(day * DAY));
  const lower = (text) => text.toLocaleLowerCase(locale);
  const isoOf = (day) => new Date(day * DAY).toISOString().slice(0, 10);
  const dayOf = (iso) => (/^\d{4}-\d\d-\d\d$/.test(iso || "") && !Number.isNaN(Date.parse(iso)) ? Date.parse(iso) / DAY : null);

  function sentence(key, values) {
    const found = page.words[key];
    if (found === undefined) throw new Error(`no words for ${key}`);
    return typeof found === "string" ? found : found[plurals.select(values.n)] || found.other;
  }

  const shown = (value) => (typeof value === "number" ? number(value) : value);

  // The pieces of a sentence, so that an element can stand in it.
  function pieces(key, values = {}) {
    return sentence(key, values).split(/\{(\w+)\}/).map((part, p) => (p % 2 ? shown(values[part]) : part)).filter((part) => part !== "");
  }

  const say = (key, values = {}) => pieces(key, values).join("");

  return { page, locale, say, pieces, number, short, percent, degree, date, shortDate, lower, isoOf, dayOf };
})();
