"use strict";
// A question of the filter as a list of tick boxes with counts; a long list has a text box that narrows it.
const KerfbookFilterChoices = (() => {
  const { locale, say, number } = KerfbookWords;
  const { el, tickBox } = KerfbookElements;
  const { OURS, questionName, nameOf, labelOf, wantedNames, list } = KerfbookFilterWords;
  const { fold, foldStreet } = KerfbookFolding;
  // Choices beyond this number are not listed.
  const MOST_CHOICES = 200;
  // From this number on, reading the list takes longer than typing a part of a name.
  const MANY = 15;

  // Words of ours in their own order, then names; "not known" last.
  function rank(question, word) {
    const known = OURS[question] || [];
    return word === null ? 1000 : known.includes(word) ? known.indexOf(word) : 500;
  }

  // With none ticked, any core matches.
  class Choices {
    constructor(filter, question, box) {
      Object.assign(this, { filter, question, rows: new Map(), words: null });
      this.summary = el("span", "chosen");
      this.list = el("div", "choices");
      this.list.setAttribute("role", "group");
      this.list.setAttribute("aria-label", questionName(question));
      this.details = el("details", "", el("summary", "", questionName(question), this.summary), this.list);
      this.details.dataset.question = question;
      this.details.addEventListener("toggle", () => this.count());
      box.append(this.details);
    }

    // Read when first opened: a million cores take time to look through.
    read() {
      const { filter, question } = this;
      const byName = new Intl.Collator(locale).compare;
      this.words = filter.counts(question).map(([word]) => ({ word, name: nameOf(question, word) }))
        .sort((a, b) => rank(question, a.word) - rank(question, b.word) || byName(a.name, b.name));
      if (this.words.length >= MANY) this.addNarrowing();
      this.fill();
    }

    addNarrowing() {
      this.narrowing = el("input", "narrow");
      this.narrowing.type = "search";
      this.narrowing.placeholder = say("filter.narrow");
      this.narrowing.setAttribute("aria-label", say("filter.narrow_label", { question: questionName(this.question) }));
      this.narrowing.addEventListener("input", () => {
        this.fill();
        this.count();
      });
      this.list.before(this.narrowing);
    }

    // Those that are ticked stay in sight.
    listed() {
      const wanted = this.filter.wanted[this.question];
      const [query, street] = [fold(this.narrowing?.value ?? ""), foldStreet(this.narrowing?.value ?? "")];
      const isNamed = ({ name }) => fold(name).includes(query) || (street && foldStreet(name).includes(street));
      return query ? this.words.filter((one) => wanted?.has(one.word) || isNamed(one)) : this.words;
    }

    fill() {
      const { question } = this;
      const words = this.listed();
      const isTicked = ({ word }) => Boolean(this.filter.wanted[question]?.has(word));
      const first = words.length > MOST_CHOICES ? [...words.filter(isTicked), ...words.filter((one) => !isTicked(one))] : words;
      this.rows.clear();
      this.list.replaceChildren();
      for (const { word } of first.slice(0, MOST_CHOICES)) {
        const count = el("span", "count");
        const label = tickBox(false, (isOn) => this.tick(word, isOn), el("span", "what", ...labelOf(question, word)), count);
        this.rows.set(word, { input: label.firstElementChild, count, label });
        this.list.append(label);
      }
      if (words.length > MOST_CHOICES) this.list.append(el("p", "hint", say("filter.too_many", { n: words.length - MOST_CHOICES })));
      if (!words.length) this.list.append(el("p", "hint", say(this.words.length ? "filter.no_name" : "filter.nothing")));
    }

    tick(word, isOn) {
      const wanted = new Set(this.filter.wanted[this.question] || []);
      if (isOn) wanted.add(word);
      else wanted.delete(word);
      this.filter.ask(this.question, wanted.size ? wanted : null);
    }

    update() {
      this.summary.textContent = list(wantedNames(this.filter, this.question));
      this.count();
    }

    // Counting takes time at a million cores: only open questions are counted.
    count() {
      if (!this.details.open) return;
      if (!this.words) this.read();
      const wanted = this.filter.wanted[this.question];
      for (const [word, found] of this.filter.counts(this.question)) {
        const row = this.rows.get(word);
        if (!row) continue;
        row.input.checked = Boolean(wanted?.has(word));
        row.count.textContent = number(found);
        row.label.classList.toggle("none", !found);
      }
    }
  }

  return { Choices };
})();
