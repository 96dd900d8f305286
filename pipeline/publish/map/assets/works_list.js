"use strict";
// Works that were handed over, each with its cores by state; pressed, it filters.
const KerfbookWorksList = (() => {
  const { page, say } = KerfbookWords;
  const { byId, el, quoted, button } = KerfbookElements;
  const { worksTitle, worksKind, worksDays, list } = KerfbookFilterWords;
  const STATES = ["open", "reinstated", "unknown"];

  // How many cores of each works are open, reinstated or not known.
  function countByState(filter) {
    const { attributes } = filter;
    const { words, codes, owner } = filter.list("works");
    const counts = new Map(words.map((word) => [word, { open: 0, reinstated: 0, unknown: 0 }]));
    for (let f = 0; f < owner.length; f += 1) if (codes[f] >= 0) counts.get(words[codes[f]])[attributes.isOut(owner[f])] += 1;
    return counts;
  }

  function entry(one, counts, choose) {
    const details = [worksKind(one.kind), worksDays(one)].filter(Boolean);
    const cores = STATES.filter((state) => counts?.[state]).map((state) => say(`works.cores_${state}`, { n: counts[state] }));
    const made = button(el("span", "row-words", el("span", "row-id", quoted(worksTitle(one.id))), el("span", "row-notes", list(details)),
      el("span", "row-notes", cores.length ? list(cores) : say("works.no_cores"))), () => choose(one.id), "row");
    made.dataset.works = one.id;
    return el("li", "", made);
  }

  function setUp(filter, choose) {
    const box = byId("works");
    const isListed = filter.asked.includes("works") && page.works.length > 0;
    box.hidden = !isListed;
    if (!isListed) return;
    box.querySelector("summary").append(say("works.title", { n: page.works.length }));
    box.addEventListener("toggle", () => {
      const rows = box.querySelector("ul");
      if (!box.open || rows.childElementCount) return;
      const counts = countByState(filter);
      rows.append(...page.works.map((one) => entry(one, counts.get(one.id), choose)));
    });
  }

  return { setUp };
})();
