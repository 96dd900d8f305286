"use strict";
// The controls of the filter: tick boxes with counts, dates from and to, and the day on which a core was open.
const KerfbookFilterControls = (() => {
  const { page, say, number, date, isoOf, dayOf } = KerfbookWords;
  const { byId, el, quoted, button, tickBox } = KerfbookElements;
  const { STATUSES, icon } = KerfbookSymbols;
  const { CHOICES, RANGES, UNLISTED } = KerfbookQuestions;
  // Days on the slider, 20 years: one date in the wrong century would leave no room for the others.
  const LONGEST = 7305;

  // The legend is the question about status: with all three ticked, any core matches.
  class Legend {
    constructor(filter, box) {
      this.filter = filter;
      this.rows = STATUSES.map((status, s) => {
        const [off, count] = [el("span", "off"), el("span", "count")];
        count.dataset.status = status.name;
        const label = tickBox(true, () => this.tick(), icon(s), el("span", "what", status.label), off, count);
        return { label, input: label.firstElementChild, off, count, name: status.name };
      });
      box.append(...this.rows.map((row) => row.label));
    }

    tick() {
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

  class DateRange {
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

  // A slider through the days: what was open on each.
  class OpenOnDay {
    constructor(filter, box) {
      this.filter = filter;
      this.last = dayOf(page.asOf);
      const earliest = filter.attributes.bundle.least("opened_on");
      const first = Math.min(this.last, Math.max(earliest, this.last - LONGEST));
      this.slider = el("input", "");
      Object.assign(this.slider, { id: "open-day", type: "range", min: String(first), max: String(this.last), step: "1" });
      this.slider.setAttribute("aria-label", say("filter.open_day"));
      this.slider.addEventListener("input", () => this.slide(Number(this.slider.value)));
      this.label = tickBox(false, (isOn) => filter.ask("open", isOn ? Number(this.slider.value) : null), say("filter.open"));
      this.day = el("output", "");
      const set = el("div", "open-on", this.label, this.day, this.slider, el("p", "hint", say("filter.open_hint")));
      set.hidden = earliest === Infinity;
      box.append(set);
    }

    slide(day) {
      this.show(day);
      cancelAnimationFrame(this.asked);
      this.asked = requestAnimationFrame(() => this.filter.ask("open", day));
    }

    show(day) {
      this.day.textContent = date(day);
      this.slider.setAttribute("aria-valuetext", date(day));
    }

    update() {
      const { open } = this.filter.wanted;
      this.label.firstElementChild.checked = open !== null;
      if (open !== null || !this.slider.dataset.set) this.slider.value = String(open ?? this.last);
      this.slider.dataset.set = "1";
      this.show(Number(this.slider.value));
    }
  }

  function setUp(filter, { saveList, copyLink }) {
    const legend = new Legend(filter, byId("legend"));
    const box = byId("questions");
    const isOffered = (question) => !UNLISTED.includes(question) && filter.asked.includes(question);
    const parts = CHOICES.filter(isOffered).map((question) => new KerfbookFilterChoices.Choices(filter, question, box));
    parts.push(...RANGES.filter(isOffered).map((question) => new DateRange(filter, question, box)));
    if (isOffered("open")) parts.push(new OpenOnDay(filter, box));
    const clear = button(say("filter.clear"), () => filter.askAll({}));
    byId("filter-buttons").append(clear, button(say("filter.csv"), saveList), button(say("filter.link"), copyLink));
    const update = () => {
      parts.forEach((part) => part.update());
      legend.update(filter.byStatus());
      clear.hidden = !filter.isAsking();
      byId("matching").textContent = filter.isAsking()
        ? say("filter.matching", { n: filter.total, all: filter.cores.all }) : say("filter.all", { n: filter.cores.all });
      byId("filter-words").hidden = !filter.isAsking();
      byId("filter-words").replaceChildren(quoted(filter.isAsking() ? KerfbookFilterWords.inWords(filter) : ""));
    };
    filter.onChange(update);
    update();
  }

  return { setUp };
})();
