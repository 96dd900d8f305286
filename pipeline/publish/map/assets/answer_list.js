"use strict";
// The cores that match the filter, listed beside the map: the most urgent first, with a few words on each.
const KerfbookAnswerList = (() => {
  const { page, locale, say, shortDate, ruleLabel } = KerfbookWords;
  const { byId, el, quoted, button } = KerfbookElements;
  const { STATUSES, icon } = KerfbookSymbols;
  const { inWords, worksTitle, changeWord } = KerfbookFilterWords;
  const PAGE = 8;
  // The list waits until the reader has stopped: a slider changes the filter many times a second.
  const PAUSE = 120;

  const urgencyOf = (attributes, i) => {
    const urgency = attributes.text("urgency", i);
    return urgency && page.urgencies.includes(urgency) ? urgency : null;
  };

  // Why a core is in the list: its state, what is wrong, its works, what changed.
  function notes(filter, i) {
    const { attributes } = filter;
    const found = [];
    const urgency = urgencyOf(attributes, i);
    if (urgency) {
      const finding = attributes.findings(i).find((one) => one.urgency === urgency);
      found.push(finding ? say("answers.why", { urgency: say(`urgency.${urgency}`), rule: ruleLabel(finding.rule) }) : say(`urgency.${urgency}`));
    }
    const [opened, state] = [attributes.opened[i], attributes.text("state", i)];
    if (attributes.isOut(i) === "open" && !Number.isNaN(opened)) found.push(say("answers.open_since", { day: shortDate(opened) }));
    else if (page.states.includes(state)) found.push(say(`state.${state}`));
    if (filter.wanted.works || filter.wanted.works_kind) found.push(...attributes.entries("works_id", i).map(worksTitle));
    if (filter.wanted.changed) found.push(...attributes.entries("change", i).map(changeWord));
    return found;
  }

  function row(filter, i, open) {
    const { attributes } = filter;
    const { status, unsure, hazard } = attributes.cores;
    const street = attributes.text("street", i);
    const made = button(icon(status[i], unsure[i] === 1, hazard[i] === 1), () => open(i), "row");
    const off = attributes.isPlaced(i) ? "" : say("answers.off");
    made.append(el("span", "row-words",
      el("span", "row-top", el("span", "row-id", quoted(attributes.id(i))), el("span", "unseen", `, ${STATUSES[status[i]].label}, `), el("span", "row-street", street ? quoted(street) : "")),
      el("span", "row-notes", quoted([...notes(filter, i), off].filter(Boolean).join(" · ")))));
    return made;
  }

  // The most urgent first, then by street, then in the page's order.
  function ordered(filter) {
    const { bundle } = filter.attributes;
    const urgency = bundle.how("urgency");
    const rank = (urgency?.words || []).map((word) => (page.urgencies.includes(word) ? page.urgencies.indexOf(word) : page.urgencies.length));
    const [urgencies, streets] = [bundle.codes("urgency"), bundle.codes("street")];
    const words = bundle.how("street")?.words || [];
    const byName = new Intl.Collator(locale).compare;
    const place = new Int32Array(words.length);
    words.map((word, w) => [word, w]).sort((a, b) => byName(a[0], b[0])).forEach(([, w], p) => { place[w] = p; });
    const last = words.length;
    return KerfbookSorting.byKey(filter.indices(), (i) =>
      (urgencies[i] < 0 ? page.urgencies.length : rank[urgencies[i]]) * (last + 1) + (streets[i] < 0 ? last : place[streets[i]]));
  }

  class AnswerList {
    constructor(filter, { openCore, showTable, print }) {
      Object.assign(this, { filter, openCore, shown: 0, order: [], waiting: 0 });
      this.more = button("", () => this.add());
      byId("list-more").append(this.more);
      byId("list-buttons").append(button(say("answers.as_table"), showTable), button(say("header.print"), print),
        button(say("filter.clear"), () => filter.askAll({ authority: filter.wanted.authority, district: filter.wanted.district })));
      filter.onChange(() => this.update());
    }

    // Asked for by something other than the choice of authority and district.
    isAsked() {
      return Object.entries(this.filter.wanted).some(([question, wanted]) => wanted !== null && question !== "authority" && question !== "district");
    }

    update() {
      clearTimeout(this.waiting);
      const isAsked = this.isAsked();
      if (!isAsked) byId("answer-list").hidden = true;
      else this.waiting = setTimeout(() => this.fill(), PAUSE);
    }

    // Heading and rows together: a heading of the new answer over rows of the old one would be wrong.
    fill() {
      byId("answer-list").hidden = false;
      byId("list-title").textContent = say("answers.list", { n: this.filter.total });
      byId("list-words").replaceChildren(quoted(inWords(this.filter)));
      this.order = ordered(this.filter);
      this.shown = 0;
      byId("list-rows").replaceChildren();
      this.add();
    }

    add() {
      const rows = Array.from(this.order.subarray(this.shown, this.shown + PAGE), (i) => el("li", "", row(this.filter, i, this.openCore)));
      byId("list-rows").append(...rows);
      this.shown += rows.length;
      const left = this.order.length - this.shown;
      this.more.hidden = !left;
      this.more.textContent = say("lists.more", { n: left });
    }
  }

  return { AnswerList };
})();
