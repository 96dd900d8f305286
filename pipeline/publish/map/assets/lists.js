"use strict";
// Lists of cores and streets beside the map: search, cores in view, unplaced cores.
const KerfbookLists = (() => {
  const { say } = KerfbookWords;
  const { STATUSES, byId, el, quoted, icon, button } = KerfbookDom;
  const PAGE = 25;
  const MOST_CORES = 8;
  const MOST_STREETS = 5;

  function coreButton(attributes, i, open) {
    const { status, unsure } = attributes.cores;
    const street = attributes.text("street", i);
    const made = button(icon(status[i], unsure[i] === 1), () => open(i), "row");
    made.append(el("span", "row-id", quoted(attributes.id(i))), el("span", "unseen", `, ${STATUSES[status[i]].label}, `), el("span", "row-street", street ? quoted(street) : ""));
    return made;
  }

  // Rows by the page: a hundred thousand buttons would stop any browser.
  function fillPaged(box, items, attributes, open) {
    let shown = 0;
    const list = el("ul", "rows");
    const more = button("", () => add());
    function add() {
      for (const i of items.slice(shown, shown + PAGE)) list.append(el("li", "", coreButton(attributes, i, open)));
      shown = Math.min(items.length, shown + PAGE);
      more.textContent = say("lists.more", { n: items.length - shown });
      more.hidden = shown === items.length;
    }
    box.replaceChildren(list, more);
    add();
    if (!items.length) box.replaceChildren(el("p", "", say("lists.none")));
  }

  function searcher(attributes, roads) {
    let ids = null;
    let streets = null;
    function prepare() {
      ids = attributes.bundle.lowerTexts("core_id");
      streets = [...new Set(roads.bundle.how("street").words)].filter(Boolean).sort();
    }
    // The whole word first, then what begins so, then what holds it; the shorter and the earlier letters before others.
    function best(candidates, query, most) {
      const order = (a, b) => a[0] - b[0] || a[1] - b[1] || (a[2] < b[2] ? -1 : 1);
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
        hits = hits.sort(order).slice(0, most);
        worst = hits[most - 1];
      });
      return { count, top: hits.sort(order).slice(0, most).map((hit) => hit[3]) };
    }
    return (text) => {
      if (!ids) prepare();
      const query = text.trim().toLowerCase();
      return {
        cores: best((use) => ids.forEach(use), query, MOST_CORES),
        streets: best((use) => streets.forEach((name) => use(name.toLowerCase(), name)), query, MOST_STREETS),
      };
    };
  }

  function setUpSearch(attributes, roads, actions) {
    const input = byId("query");
    const box = byId("results");
    const search = searcher(attributes, roads);
    const close = () => { box.hidden = true; };
    const choose = (act) => { close(); act(); };

    function show() {
      if (!input.value.trim()) {
        close();
        return;
      }
      const found = search(input.value);
      const rows = found.cores.top.map((i) => coreButton(attributes, i, () => choose(() => actions.openCore(i))));
      found.streets.top.forEach((name) => {
        const row = button(el("span", "row-id", quoted(name)), () => choose(() => actions.showStreet(name)), "row street");
        row.append(el("span", "row-street", say("lists.street")));
        rows.push(row);
      });
      const n = found.cores.count + found.streets.count;
      const said = el("p", "note", n > rows.length ? say("lists.first_matches", { n, shown: rows.length }) : say("lists.matches", { n }));
      said.setAttribute("role", "status");
      box.replaceChildren(...rows, said);
      box.hidden = false;
    }

    input.addEventListener("input", show);
    input.addEventListener("focus", show);
    input.addEventListener("keydown", (event) => {
      if (event.key === "Enter") {
        // else the same key press would also close the card that it opens
        event.preventDefault();
        const first = box.querySelector("button");
        if (!box.hidden && first) first.click();
      }
    });
    document.querySelector(".search").addEventListener("keydown", (event) => {
      if (event.key === "Escape") {
        close();
        input.focus();
        close();
      }
    });
    document.addEventListener("pointerdown", (event) => {
      if (!event.target.closest(".search")) close();
    });
  }

  return { fillPaged, setUpSearch };
})();
