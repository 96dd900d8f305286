"use strict";
// The first screen: four answers, each a count that is a link, of the road authority and district that are chosen.
const KerfbookAnswers = (() => {
  const { page, say, number, shortDate, dayOf } = KerfbookWords;
  const { byId, el, quoted } = KerfbookElements;
  const { QUESTIONS, ANY } = KerfbookQuestions;
  const { nameOf, changeWord } = KerfbookFilterWords;
  const SCOPE = ["authority", "district"];
  const IS_AUTHORITY = page.reader === "authority";
  // The first kinds of change that there are, in the order of what a reader asks first: a line holds no more.
  const MOST_KINDS = 2;

  const OPEN = ["open", "plated", "interim"];
  const URGENT = ["hazard", "overdue"];

  // What each answer asks of the filter; null where the file does not hold what it is worked out from.
  function answersOf(filter) {
    const has = (question) => filter.asked.includes(question);
    const hasPlanned = has("works") && page.works.some(({ kind }) => kind === "planned");
    return [
      { name: "open", wanted: has("state") ? { state: new Set(OPEN) } : { out: new Set(["open"]) } },
      { name: "urgent", wanted: has("urgency") ? { urgency: new Set(URGENT) } : null },
      { name: "works", wanted: hasPlanned ? { works_kind: new Set(["planned"]) } : null },
      { name: "changed", wanted: has("changed") && page.since ? { changed: new Set([ANY]) } : null },
    ];
  }

  const TITLES = {
    open: () => say(IS_AUTHORITY ? "answers.open_yours" : "answers.open"),
    urgent: () => say("answers.urgent"),
    works: () => say(IS_AUTHORITY ? "answers.works_yours" : "answers.works"),
    changed: () => (page.since ? say("answers.changed", { day: shortDate(dayOf(page.since)) }) : say("answers.changed_since_last")),
  };
  const MISSING = {
    urgent: () => say("answers.no_urgency"),
    works: () => say(IS_AUTHORITY ? "answers.no_works_handed" : "answers.no_works"),
    changed: () => say("answers.no_run_before"),
  };

  function sum(bytes) {
    let total = 0;
    for (let i = 0; i < bytes.length; i += 1) total += bytes[i];
    return total;
  }

  function countBoth(bytes, others) {
    let total = 0;
    for (let i = 0; i < bytes.length; i += 1) total += bytes[i] & others[i];
    return total;
  }

  // In how many streets of the network the marked cores lie: without those that only the register names, of cores off
  // the network or in an unnamed road. Each distinct row of the details is looked at once, not each core.
  function countStreets(bundle, bytes) {
    const { words, group } = bundle.how("street");
    const [before, after] = say("card.street_recorded", { street: "\n" }).split("\n");
    const codes = bundle.ints("street");
    const rows = bundle.ints(group ?? "street");
    const seen = new Uint8Array(group ? codes.length : words.length);
    for (let i = 0; i < bytes.length; i += 1) if (bytes[i] && rows[i] >= 0) seen[rows[i]] = 1;
    const streets = new Set();
    for (let r = 0; r < seen.length; r += 1) {
      const word = seen[r] ? words[group ? codes[r] : r] : undefined;
      if (word !== undefined && !(word.startsWith(before) && word.endsWith(after))) streets.add(word);
    }
    return streets.size;
  }

  // How many of the marked cores have each text of a list, the most common first.
  function countEntries({ words, codes, owner }, bytes) {
    const counts = new Uint32Array(words.length);
    for (let f = 0; f < owner.length; f += 1) if (bytes[owner[f]] && codes[f] >= 0) counts[codes[f]] += 1;
    return words.map((word, w) => [word, counts[w]]).filter(([, count]) => count).sort((a, b) => b[1] - a[1] || (a[0] < b[0] ? -1 : 1));
  }

  class Answers {
    constructor(filter, views) {
      Object.assign(this, { filter, views, counted: null, answers: answersOf(filter) });
      this.selects = SCOPE.filter((question) => filter.asked.includes(question)).map((question) => this.addSelect(question));
      for (const answer of this.answers) {
        answer.figure = el("span", "figure");
        answer.link = el(answer.wanted ? "a" : "span", "main", answer.figure, el("span", "title", TITLES[answer.name]()));
        answer.line = el("span", "line");
        answer.item = el("li", answer.wanted ? "answer" : "answer missing", answer.link, answer.line);
        answer.item.dataset.answer = answer.name;
      }
      byId("four").append(...this.answers.map(({ item }) => item));
      byId("scope").hidden = this.selects.every(({ select }) => select.parentElement.hidden);
      filter.onChange(() => this.update());
      this.update();
    }

    // A list of names to choose from; not shown where there is nothing to choose.
    addSelect(question) {
      const { filter } = this;
      const names = filter.attributes.bundle.wordsOf(KerfbookQuestions.COLUMNS[question] ?? question).map((word) => [word, word === null ? say(`answers.no_${question}`) : nameOf(question, word)])
        .sort((a, b) => (a[0] === null) - (b[0] === null) || a[1].localeCompare(b[1]));
      const words = [undefined, ...names.map(([word]) => word)];
      const select = el("select", "", ...[say(`answers.all_${question}`), ...names.map(([, name]) => name)].map((name, n) => {
        const option = el("option", "", name);
        option.value = String(n);
        // An option holds no element that would mark its text as the register's.
        if (typeof words[n] === "string") option.dataset.quoted = "";
        return option;
      }));
      select.dataset.scope = question;
      const several = el("option", "", say("answers.several"));
      several.value = "several";
      several.hidden = true;
      select.append(several);
      select.addEventListener("change", () => {
        const word = words[Number(select.value)];
        filter.ask(question, word === undefined ? null : new Set([word]));
        this.views.showScope();
      });
      const label = el("label", "", el("span", "", say(`filter.${question}`)), select);
      label.hidden = names.length < 2;
      byId("scope").append(label);
      return { question, select, words, several };
    }

    wantedOf(name) { return this.answers.find((answer) => answer.name === name).wanted; }

    scope() { return Object.fromEntries(SCOPE.map((question) => [question, this.filter.wanted[question]])); }

    // Counts are of the scope, whatever else is asked: they are worked out again when it changes.
    count() {
      const { filter } = this;
      const wanted = this.scope();
      const asked = SCOPE.map((question) => wanted[question] && [...wanted[question]]);
      if (this.counted && JSON.stringify(asked) === this.counted) return;
      this.counted = JSON.stringify(asked);
      const bytes = filter.matching(wanted);
      for (const answer of this.answers) {
        const found = answer.wanted ? this.within(bytes, answer.wanted) : null;
        if (answer.name === "open") this.open = found;
        answer.parts = this.partsOf(answer.name, bytes, found);
        answer.figure.textContent = found && !answer.parts.areUnknown ? number(sum(found)) : "–";
      }
    }

    within(bytes, wanted) {
      const found = this.filter.matching(wanted);
      for (let i = 0; i < found.length; i += 1) found[i] &= bytes[i];
      return found;
    }

    // The line below a count: texts, and counts that are links too.
    partsOf(name, bytes, found) {
      const { filter } = this;
      const part = (wanted, text) => ({ wanted, text: text(sum(this.within(bytes, wanted))) });
      const stillOpen = () => [{ wanted: { ...this.wantedOf("works"), ...this.wantedOf("open") }, text: say("answers.works_open", { n: countBoth(found, this.open) }) }];
      if (name === "works" && filter.asked.includes("works") && page.works.some(({ kind }) => kind === "protected")) {
        const inProtected = part({ works_kind: new Set(["protected"]) }, (n) => say("answers.protected", { n }));
        return found ? [...stillOpen(), inProtected] : [{ text: MISSING.works() }, inProtected];
      }
      if (!found) return [{ text: MISSING[name]() }];
      if (name === "open") {
        const streets = filter.asked.includes("street") ? [{ text: say("answers.streets", { n: countStreets(filter.attributes.bundle, found) }) }] : [];
        return this.withUnknown([{ text: say("answers.of", { n: sum(bytes) }) }, ...streets], bytes);
      }
      if (name === "urgent") {
        const parts = [part({ urgency: new Set(["hazard"]) }, (n) => say("answers.hazards", { n })), part({ urgency: new Set(["overdue"]) }, (n) => say("answers.overdue", { n }))];
        // A late notice of a core that was reinstated long ago is overdue as well: what is open needs action first.
        return filter.asked.includes("state") ? [...parts, part({ urgency: new Set(URGENT), state: new Set(OPEN) }, (n) => say("answers.urgent_open", { n }))] : parts;
      }
      if (name === "works") return [...stillOpen(), { text: say("answers.of_works", { n: countEntries(filter.list("works"), found).filter(([id]) => page.works.some((one) => one.id === id && one.kind === "planned")).length }) }];
      const place = ([kind]) => page.changeKinds.indexOf(kind);
      const kinds = countEntries(filter.list("changed"), found).sort((a, b) => place(a) - place(b));
      if (!kinds.length) return [{ text: say("answers.nothing_changed") }];
      return kinds.slice(0, MOST_KINDS).map(([kind, n]) => ({ wanted: { changed: new Set([kind]) }, text: say("answers.kind", { n, kind: changeWord(kind) }) }));
    }

    // Nobody knows of cores of unknown state whether they are open: where all are, a count of open ones would say none.
    withUnknown(parts, bytes) {
      const { filter } = this;
      if (!filter.asked.includes("state") || !filter.attributes.bundle.wordsOf("state").includes("unknown")) return parts;
      const wanted = { state: new Set(["unknown"]) };
      const [all, unknown] = [sum(bytes), sum(this.within(bytes, wanted))];
      if (!unknown) return parts;
      if (unknown < all) return [...parts, { wanted, text: say("answers.unknown", { n: unknown }) }];
      return Object.assign([parts[0], { wanted, text: say("answers.all_unknown") }], { areUnknown: true });
    }

    // Whether the filter asks for this in the scope, and for nothing else.
    isAsked(wanted) {
      const { filter } = this;
      const others = QUESTIONS.filter((question) => !SCOPE.includes(question));
      return others.every((question) => {
        const [asked, mine] = [filter.wanted[question], wanted[question] ? filter.inFull(question, wanted[question]) : null];
        if (asked === null || mine === null) return asked === mine;
        return asked instanceof Set && asked.size === mine.size && [...mine].every((word) => asked.has(word));
      });
    }

    // A link keeps the scope, the table where that is shown, and the units.
    point(link, wanted) {
      link.href = KerfbookLink.address({ wanted: { ...this.scope(), ...wanted }, view: this.views.view(), units: KerfbookUnits.inUse() });
      if (this.isAsked(wanted)) link.setAttribute("aria-current", "true");
      else link.removeAttribute("aria-current");
    }

    update() {
      this.count();
      for (const { question, select, words, several } of this.selects) {
        const wanted = this.filter.wanted[question];
        const at = wanted === null ? 0 : wanted.size === 1 ? words.indexOf([...wanted][0]) : -1;
        several.hidden = at >= 0;
        select.value = at >= 0 ? String(at) : "several";
      }
      for (const { wanted, link, line, item, parts } of this.answers) {
        if (wanted) this.point(link, wanted);
        item.classList.toggle("current", Boolean(wanted) && this.isAsked(wanted));
        line.replaceChildren(...parts.flatMap((one, p) => [p ? say("lists.between") : "", this.part(one)]));
      }
    }

    part({ wanted, text }) {
      if (!wanted) return quoted(text);
      const link = el("a", "", quoted(text));
      this.point(link, wanted);
      return link;
    }
  }

  return { Answers };
})();
