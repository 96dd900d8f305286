"use strict";
// The filter in words: the name of each choice, and one sentence for the whole filter.
const KerfbookFilterWords = (() => {
  const { page, say, date, dayOf, ruleLabel } = KerfbookWords;
  const { quoted } = KerfbookElements;
  const { STATUSES, icon } = KerfbookSymbols;
  const { CHOICES, RANGES, SEVERITIES } = KerfbookFilter;

  const list = (names) => names.join(say("lists.between"));
  const works = new Map(page.works.map((one) => [one.id, one]));
  const OURS = { urgency: page.urgencies, state: page.states, severity: SEVERITIES, permit: KerfbookQuestions.PERMITS, out: KerfbookQuestions.OUT };
  // What the filter calls cores that a question has no word for.
  const MISSING = { urgency: "no_urgency", severity: "no_finding", rule: "no_finding", works: "no_works", works_kind: "no_works", changed: "no_change", permit: "permit_none" };

  const worksDays = ({ on, until }) => [on, until].map(dayOf).filter((day) => day !== null).map(date).join(" – ");
  const worksKind = (kind) => (page.words[`works.${kind}`] ? say(`works.${kind}`) : kind || say("filter.not_known"));

  const worksTitle = (id) => works.get(id)?.name ?? id;

  // Works by their name, kind and days; by their id where they have no name.
  function worksName(id) {
    const one = works.get(id);
    if (!one) return id;
    const details = [worksKind(one.kind), worksDays(one)].filter(Boolean);
    return say("works.name", { name: worksTitle(id), details: list(details) });
  }

  const changeWord = (kind) => {
    const key = `change.${kind.replaceAll(" ", "_")}`;
    return page.words[key] ? say(key) : kind;
  };

  function questionName(question) {
    const since = dayOf(page.since);
    if (question === "changed" && since !== null) return say("filter.changed", { day: date(since) });
    return say(`filter.${question}`);
  }

  // A choice as text; texts of the register come as they are.
  function nameOf(question, word) {
    if (word === null) return say(`filter.${MISSING[question] ?? "not_known"}`);
    if (question === "status") return STATUSES.find((status) => status.name === word)?.label ?? word;
    if (OURS[question]?.includes(word)) return say(question === "permit" || question === "out" ? `filter.${question}_${word}` : `${question}.${word}`);
    if (question === "works") return worksName(word);
    if (question === "works_kind") return worksKind(word);
    if (question === "changed") return changeWord(word);
    return question === "rule" ? ruleLabel(word) : word;
  }

  // What is wanted of a question, in words.
  function wantedNames(filter, question) {
    if (filter.isAny(question)) return [say(question === "changed" ? "filter.any_change" : "filter.any")];
    return [...filter.wanted[question] || []].map((word) => nameOf(question, word));
  }

  // A choice as it is shown beside its tick box.
  function labelOf(question, word) {
    const name = nameOf(question, word);
    if (word === null) return [name];
    return question === "status" ? [icon(STATUSES.findIndex((status) => status.name === word)), name] : [quoted(name)];
  }

  // The filter as one sentence: for the printed page, and to see why a core is not shown.
  function inWords(filter) {
    const parts = [];
    for (const question of CHOICES) {
      const wanted = filter.wanted[question];
      if (!wanted) continue;
      const names = wantedNames(filter, question);
      parts.push(say("filter.is", { question: questionName(question), words: names.join(say("filter.or")) || say("filter.none_ticked") }));
    }
    for (const question of RANGES) {
      const wanted = filter.wanted[question];
      if (!wanted) continue;
      const [from, to] = wanted.map((day) => (day === null ? null : date(day)));
      const key = from === null ? "filter.until" : to === null ? "filter.since" : "filter.between";
      parts.push(say(key, { question: say(`filter.${question}`), from, to }));
    }
    if (filter.wanted.open !== null) parts.push(say("filter.was_open", { day: date(filter.wanted.open) }));
    return parts.length ? parts.join(say("filter.and")) : say("filter.everything");
  }

  return { OURS, questionName, nameOf, labelOf, wantedNames, worksDays, worksKind, worksTitle, worksName, changeWord, list, inWords };
})();
