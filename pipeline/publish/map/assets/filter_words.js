"use strict";
// The filter in words: the name of each choice, and one sentence for the whole filter.
const KerfbookFilterWords = (() => {
  const { page, say, date, ruleLabel } = KerfbookWords;
  const { quoted } = KerfbookElements;
  const { STATUSES, icon } = KerfbookSymbols;
  const { CHOICES, RANGES, SEVERITIES } = KerfbookFilter;

  // A choice as text; texts of the register come as they are.
  function nameOf(question, word) {
    if (word === null && question === "urgency") return say("filter.no_urgency");
    if (word === null) return say(question === "severity" || question === "rule" ? "filter.no_finding" : "filter.not_known");
    if (question === "status") return STATUSES.find((status) => status.name === word)?.label ?? word;
    const ours = { urgency: page.urgencies, state: page.states }[question];
    if (ours?.includes(word)) return say(`${question}.${word}`);
    if (question === "severity" && SEVERITIES.includes(word)) return say(`severity.${word}`);
    return question === "rule" ? ruleLabel(word) : word;
  }

  // A choice as it is shown beside its tick box.
  function labelOf(question, word) {
    const name = nameOf(question, word);
    if (word === null) return [name];
    return question === "status" ? [icon(STATUSES.findIndex((status) => status.name === word)), name] : [quoted(name)];
  }

  const list = (names) => names.join(say("lists.between"));

  // The filter as one sentence: for the printed page, and to see why a core is not shown.
  function inWords(filter) {
    const parts = [];
    for (const question of CHOICES) {
      const wanted = filter.wanted[question];
      if (!wanted) continue;
      const names = [...wanted].map((word) => nameOf(question, word));
      parts.push(say("filter.is", { question: say(`filter.${question}`), words: names.join(say("filter.or")) || say("filter.none_ticked") }));
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

  return { nameOf, labelOf, list, inWords };
})();
