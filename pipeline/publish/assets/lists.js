"use strict";
// Lists of cores and streets beside the map: search, cores in view, unplaced cores.
const KerfbookLists = (() => {
  const { el, quoted, icon, plural, moreButton } = KerfbookDom;
  const { idOf, textOf } = KerfbookCard;
  const PAGE = 25;
  const MOST_CORES = 8;
  const MOST_STREETS = 5;

  function coreButton(cores, i, open) {
    const street = textOf("street", i);
    const button = el("button", "row", icon(cores.statusOf(i)), el("span", "row-id", quoted(idOf(i))), el("span", "row-street", street ? quoted(street) : ""));
    button.type = "button";
    button.setAttribute("aria-label", `${idOf(i)}, ${cores.statusName(i)}${street ? `, ${street}` : ""}`);
    button.addEventListener("click", () => open(i));
    return button;
  }

  // Rows by the page: a hundred thousand buttons would stop any browser.
  function fillPaged(box, items, cores, open) {
    let shown = 0;
    const list = el("ul", "rows");
    const more = moreButton("", () => add());
    function add() {
      items.slice(shown, shown + PAGE).forEach((i) => list.append(el("li", "", coreButton(cores, i, open))));
      shown = Math.min(items.length, shown + PAGE);
      more.textContent = `Show more (${plural(items.length - shown, "core", "cores")} left)`;
      more.hidden = shown === items.length;
    }
    box.replaceChildren(list, more);
    add();
    if (!items.length) box.replaceChildren(el("p", "", "None."));
  }

  function rank(found, query) {
    if (found === query) return 0;
    return found.startsWith(query) ? 1 : 2;
  }

  function searcher(cores, roads) {
    let ids = null;
    let streets = null;
    function prepare() {
      ids = Array.from({ length: cores.statuses }, (_, i) => idOf(i).toLowerCase());
      const { street } = roads.data;
      streets = [...new Set(street.words || street.plain)].filter(Boolean).sort();
    }
    function best(candidates, query, most) {
      const hits = [];
      candidates((key, value) => {
        if (key.includes(query)) hits.push([rank(key, query), key.length, key, value]);
      });
      return { count: hits.length, top: hits.sort((a, b) => a[0] - b[0] || a[1] - b[1] || (a[2] < b[2] ? -1 : 1)).slice(0, most).map((hit) => hit[3]) };
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

  function setUpSearch(cores, roads, actions) {
    const input = document.getElementById("query");
    const box = document.getElementById("results");
    const search = searcher(cores, roads);
    const close = () => { box.hidden = true; };
    const choose = (act) => { close(); act(); };

    function show() {
      if (!input.value.trim()) {
        close();
        return;
      }
      const found = search(input.value);
      const rows = found.cores.top.map((i) => coreButton(cores, i, () => choose(() => actions.openCore(i))));
      found.streets.top.forEach((name) => {
        const button = el("button", "row street", el("span", "row-id", quoted(name)), el("span", "row-street", "street"));
        button.type = "button";
        button.addEventListener("click", () => choose(() => actions.showStreet(name)));
        rows.push(button);
      });
      const total = found.cores.count + found.streets.count;
      const note = total > rows.length ? `${plural(total, "match", "matches")}, the first ${rows.length} shown` : plural(total, "match", "matches");
      const said = el("p", "note", note);
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
