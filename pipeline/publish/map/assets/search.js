"use strict";
// The search field: cores by id, streets by name.
const KerfbookSearch = (() => {
  const { say } = KerfbookWords;
  const { byId, el, quoted, button } = KerfbookElements;
  const MOST_CORES = 8;
  const MOST_STREETS = 5;

  const byRank = (a, b) => a[0] - b[0] || a[1] - b[1] || (a[2] < b[2] ? -1 : 1);

  // Exact matches first, then texts that begin with the query, then those that contain it; the shorter first, then A to Z.
  function best(candidates, query, most) {
    let [hits, count, worst] = [[], 0, null];
    candidates((key, value) => {
      const at = key.indexOf(query);
      if (at < 0) return;
      count += 1;
      const rank = key.length === query.length ? 0 : at ? 2 : 1;
      // A short query can match all of a million: only the best are kept.
      if (worst && (rank - worst[0] || key.length - worst[1] || (key < worst[2] ? -1 : 1)) > 0) return;
      hits.push([rank, key.length, key, value]);
      if (hits.length < 20 * most) return;
      hits = hits.sort(byRank).slice(0, most);
      worst = hits[most - 1];
    });
    return { count, top: hits.sort(byRank).slice(0, most).map((hit) => hit[3]) };
  }

  function searcher(attributes, roads) {
    let ids = null;
    let streets = null;
    return (text) => {
      // Read at the first search: a million ids take time.
      ids ??= attributes.bundle.lowerTexts("core_id");
      streets ??= [...new Set(roads.bundle.how("street").words)].filter(Boolean).sort();
      const query = text.trim().toLowerCase();
      return {
        cores: best((use) => ids.forEach(use), query, MOST_CORES),
        streets: best((use) => streets.forEach((name) => use(name.toLowerCase(), name)), query, MOST_STREETS),
      };
    };
  }

  function streetButton(name, open) {
    const row = button(el("span", "row-id", quoted(name)), open, "row street");
    row.append(el("span", "row-street", say("lists.street")));
    return row;
  }

  function setUp(attributes, roads, { openCore, showStreet }) {
    const [input, box] = [byId("query"), byId("results")];
    const search = searcher(attributes, roads);
    const close = () => { box.hidden = true; };
    const choose = (act, value) => () => { close(); act(value); };

    function show() {
      if (!input.value.trim()) {
        close();
        return;
      }
      const { cores, streets } = search(input.value);
      const rows = cores.top.map((i) => KerfbookLists.coreButton(attributes, i, choose(openCore, i)));
      rows.push(...streets.top.map((name) => streetButton(name, choose(showStreet, name))));
      const n = cores.count + streets.count;
      const found = el("p", "note", n > rows.length ? say("lists.first_matches", { n, shown: rows.length }) : say("lists.matches", { n }));
      found.setAttribute("role", "status");
      box.replaceChildren(...rows, found);
      box.hidden = false;
    }

    input.addEventListener("input", show);
    input.addEventListener("focus", show);
    input.addEventListener("keydown", (event) => {
      if (event.key !== "Enter") return;
      // Otherwise the same key press would also close the card that it opens.
      event.preventDefault();
      const first = box.querySelector("button");
      if (!box.hidden && first) first.click();
    });
    input.parentElement.addEventListener("keydown", (event) => {
      if (event.key !== "Escape") return;
      input.focus();
      close();
    });
    document.addEventListener("pointerdown", (event) => {
      if (!event.target.closest(".search")) close();
    });
  }

  return { setUp };
})();
