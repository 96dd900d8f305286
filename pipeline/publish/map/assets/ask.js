"use strict";
// The filter's own controls: tick boxes with counts, dates from and to, and the day on which a core was open.
const KerfbookAsk = (() => {
  const { page, locale, say, number, date, isoOf, dayOf } = KerfbookWords;
  const { STATUSES, byId, el, quoted, icon, button, tick } = KerfbookDom;
  const { CHOICES, RANGES, SEVERITIES } = KerfbookFilter;
  // A question with more choices than this is narrowed by typing.
  const MANY = 200;
  // Of days to slide through, 20 years: one date miswritten by a century would leave no room for the others.
  const LONGEST = 7305;

  const wordOf = (question, word) => {
    if (word === null) return [say(question === "severity" || question === "rule" ? "filter.no_finding" : "filter.not_known")];
    if (question === "status") {
      const s = STATUSES.findIndex((status) => status.name === word);
      return [icon(s), STATUSES[s].label];
    }
    if (question === "severity" && SEVERITIES.includes(word)) return [say(`severity.${word}`)];
    return [quoted(word)];
  };

  function rank(question, word) {
    const known = question === "status" ? STATUSES.map((status) => status.name) : question === "severity" ? SEVERITIES : [];
    return word === null ? 1000 : known.includes(word) ? known.indexOf(word) : 500;
  }

  // One question as a list of tick boxes; ticking none asks for anything.
  class Choices {
    constructor(filter, question, box) {
      Object.assign(this, { filter, question, rows: new Map(), isFilled: false });
      this.summary = el("span", "chosen");
      this.list = el("div", "choices");
      this.list.setAttribute("role", "group");
      this.list.setAttribute("aria-label", say(`filter.${question}`));
      this.details = el("details", "", el("summary", "", say(`filter.${question}`), this.summary), this.list);
      this.details.dataset.question = question;
      this.details.addEventListener("toggle", () => this.count());
      box.append(this.details);
    }

    // Built when first opened: a million cores take time to look through.
    fill() {
      this.isFilled = true;
      const { filter, question, list } = this;
      const words = filter.counts(question).map(([word]) => word)
        .sort((a, b) => rank(question, a) - rank(question, b) || String(a).localeCompare(String(b), locale));
      for (const word of words.slice(0, MANY)) {
        const count = el("span", "count");
        const label = tick(false, (isOn) => this.turn(word, isOn), el("span", "what", ...wordOf(question, word)), count);
        this.rows.set(word, { input: label.firstElementChild, count, label });
        list.append(label);
      }
      if (words.length > MANY) list.append(el("p", "hint", say("filter.too_many", { n: words.length - MANY })));
      if (!words.length) list.append(el("p", "hint", say("filter.nothing")));
    }

    turn(word, isOn) {
      const wanted = new Set(this.filter.wanted[this.question] || []);
      if (isOn) wanted.add(word);
      else wanted.delete(word);
      this.filter.ask(this.question, wanted.size ? wanted : null);
    }

    update() {
      const wanted = this.filter.wanted[this.question];
      const names = wanted ? [...wanted].map((word) => wordOf(this.question, word).at(-1)) : [];
      this.summary.textContent = names.map((name) => name.textContent ?? name).join(say("lists.between"));
      this.count();
    }

    // Counting takes time at a million cores: only what is open is counted.
    count() {
      if (!this.details.open) return;
      if (!this.isFilled) this.fill();
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

  // The legend is the question about status: all three ticked asks for anything.
  class Legend {
    constructor(filter, box) {
      this.filter = filter;
      this.rows = STATUSES.map((status, s) => {
        const [off, count] = [el("span", "off"), el("span", "count")];
        count.dataset.status = status.name;
        const label = tick(true, () => this.turn(), icon(s), el("span", "what", status.label), off, count);
        return { label, input: label.firstElementChild, off, count, name: status.name };
      });
      box.append(...this.rows.map((row) => row.label));
    }

    turn() {
      const on = this.rows.filter((row) => row.input.checked).map((row) => row.name);
      this.filter.ask("status", on.length === STATUSES.length ? null : new Set(on));
    }

    update(counts) {
      const wanted = this.filter.wanted.status;
      this.rows.forEach((row, s) => {
        row.input.checked = !wanted || wanted.has(row.name);
        row.count.textContent = number(counts.all[s]);
        row.off.textContent = counts.unplaced[s] ? say("legend.off", { n: counts.unplaced[s] }) : "";
      });
    }
  }

  function dateInput(label, onChange) {
    const input = el("input", "");
    input.type = "date";
    input.addEventListener("change", onChange);
    return [input, el("label", "date", say(label), input)];
  }

  class Range {
    constructor(filter, question, box) {
      Object.assign(this, { filter, question });
      const change = () => filter.ask(question, [this.from, this.to].map((input) => dayOf(input.value)));
      const [from, fromLabel] = dateInput("filter.from", change);
      const [to, toLabel] = dateInput("filter.to", change);
      Object.assign(this, { from, to });
      const set = el("fieldset", "range", el("legend", "", say(`filter.${question}`)), fromLabel, toLabel);
      set.dataset.question = question;
      box.append(set);
    }

    update() {
      const [from, to] = this.filter.wanted[this.question] || [null, null];
      this.from.value = from === null ? "" : isoOf(from);
      this.to.value = to === null ? "" : isoOf(to);
    }
  }

  // Sliding through the days: what was open on each.
  class OpenOn {
    constructor(filter, box) {
      this.filter = filter;
      const { opened } = filter.attributes;
      const last = dayOf(page.asOf);
      let first = Infinity;
      for (let i = 0; i < opened.length; i += 1) if (opened[i] < first) first = opened[i];
      first = Math.max(first, last - LONGEST);
      this.last = last;
      this.slide = el("input", "");
      Object.assign(this.slide, { type: "range", min: String(Math.min(first, last)), max: String(last), step: "1" });
      this.slide.id = "open-day";
      this.slide.setAttribute("aria-label", say("filter.open_day"));
      this.slide.addEventListener("input", () => {
        this.tell(Number(this.slide.value));
        cancelAnimationFrame(this.asked);
        this.asked = requestAnimationFrame(() => filter.ask("open", Number(this.slide.value)));
      });
      this.label = tick(false, (isOn) => filter.ask("open", isOn ? Number(this.slide.value) : null), say("filter.open"));
      this.day = el("output", "");
      this.hint = el("p", "hint", say("filter.open_hint"));
      const set = el("div", "open-on", this.label, this.day, this.slide, this.hint);
      set.hidden = first === Infinity;
      box.append(set);
    }

    tell(day) {
      this.day.textContent = date(day);
      this.slide.setAttribute("aria-valuetext", date(day));
    }

    update() {
      const { open } = this.filter.wanted;
      this.label.firstElementChild.checked = open !== null;
      if (open !== null || !this.slide.dataset.set) this.slide.value = String(open ?? this.last);
      this.slide.dataset.set = "1";
      this.tell(Number(this.slide.value));
    }
  }

  // The filter in words: for the printer, and for whoever asks why a core is not there.
  function inWords(filter) {
    const said = [];
    for (const question of CHOICES) {
      const wanted = filter.wanted[question];
      if (!wanted) continue;
      const names = [...wanted].map((word) => wordOf(question, word).at(-1)).map((name) => name.textContent ?? name);
      said.push(say("filter.is", { question: say(`filter.${question}`), words: names.join(say("filter.or")) || say("filter.none_ticked") }));
    }
    for (const question of RANGES) {
      const wanted = filter.wanted[question];
      if (!wanted) continue;
      const [from, to] = wanted.map((day) => (day === null ? null : date(day)));
      const key = from === null ? "filter.until" : to === null ? "filter.since" : "filter.between";
      said.push(say(key, { question: say(`filter.${question}`), from, to }));
    }
    if (filter.wanted.open !== null) said.push(say("filter.was_open", { day: date(filter.wanted.open) }));
    return said.length ? said.join(say("filter.and")) : say("filter.everything");
  }

  function setUp(filter, actions) {
    const legend = new Legend(filter, byId("legend"));
    const box = byId("questions");
    const asked = (question) => question !== "status" && filter.asked.includes(question);
    const parts = CHOICES.filter(asked).map((question) => new Choices(filter, question, box));
    parts.push(...RANGES.filter(asked).map((question) => new Range(filter, question, box)));
    if (asked("open")) parts.push(new OpenOn(filter, box));
    const clear = button(say("filter.clear"), () => filter.askAll({}));
    byId("ask-buttons").append(clear, button(say("filter.csv"), actions.saveList), button(say("filter.link"), actions.copyLink));
    const update = () => {
      parts.forEach((part) => part.update());
      const counts = filter.byStatus();
      legend.update(counts);
      clear.hidden = !filter.isAsking();
      byId("matching").textContent = filter.isAsking()
        ? say("filter.matching", { n: filter.total, all: filter.cores.all }) : say("filter.all", { n: filter.cores.all });
    };
    filter.onChange(update);
    update();
  }

  return { setUp, inWords };
})();
