"use strict";
// The page's sentences from its catalogue of words, and numbers and dates as its locale writes them.
const KerfbookWords = (() => {
  const page = JSON.parse(document.getElementById("page-data").textContent);
  const { locale } = page.words;
  const plurals = new Intl.PluralRules(locale);
  const numbers = new Intl.NumberFormat(locale, { maximumFractionDigits: 2 });
  const DAY = 86400000;

  // A browser takes up to 20 ms to make a format: those that the first drawing does not need are made when first used.
  function lazily(make) {
    let made = null;
    return (value) => {
      made ??= make();
      return made.format(value);
    };
  }

  const dates = lazily(() => new Intl.DateTimeFormat(locale, { timeZone: "UTC", day: "numeric", month: "long", year: "numeric" }));
  const shortDates = lazily(() => new Intl.DateTimeFormat(locale, { timeZone: "UTC", day: "numeric", month: "short", year: "numeric" }));
  const number = (value) => numbers.format(value);
  // A whole number where there is little room.
  const short = lazily(() => new Intl.NumberFormat(locale, { maximumFractionDigits: 0, useGrouping: false }));
  const percent = lazily(() => new Intl.NumberFormat(locale, { style: "percent" }));
  const degree = lazily(() => new Intl.NumberFormat(locale, { minimumFractionDigits: 6, maximumFractionDigits: 6 }));
  // Days count from 1970-01-01.
  const date = (day) => dates(new Date(day * DAY));
  const shortDate = (day) => shortDates(new Date(day * DAY));
  const lower = (text) => text.toLocaleLowerCase(locale);
  const isoOf = (day) => new Date(day * DAY).toISOString().slice(0, 10);
  const dayOf = (iso) => (/^\d{4}-\d\d-\d\d$/.test(iso || "") && !Number.isNaN(Date.parse(iso)) ? Date.parse(iso) / DAY : null);

  function sentence(key, values) {
    const found = page.words[key];
    if (found === undefined) throw new Error(`no words for ${key}`);
    return typeof found === "string" ? found : found[plurals.select(values.n)] || found.other;
  }

  const written = (value) => (typeof value === "number" ? number(value) : value);

  // The pieces of a sentence, so that an element can be one of them.
  function pieces(key, values = {}) {
    return sentence(key, values).split(/\{(\w+)\}/).map((part, p) => (p % 2 ? written(values[part]) : part)).filter((part) => part !== "");
  }

  const say = (key, values = {}) => pieces(key, values).join("");

  // What people call a rule: "Permit expired" for permit-expired.
  const ruleLabel = (slug) => page.rules[slug] ?? slug;

  return { page, locale, lazily, say, pieces, number, short, percent, degree, date, shortDate, lower, isoOf, dayOf, ruleLabel };
})();
