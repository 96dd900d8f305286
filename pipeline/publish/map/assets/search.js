"use strict";
// The search field: opens a core; a street, district, works, finding or permit filters.
const KerfbookSearch = (() => {
  const { say } = KerfbookWords;
  const { byId, el, quoted, button } = KerfbookElements;

  function entryButton({ name, n, group }, choose) {
    const row = button(el("span", "row-id", quoted(name)), choose, `row ${group}`);
    row.append(el("span", "row-street", say("search.cores", { n })));
    return row;
  }

  function groupHead(group, count, shown) {
    const title = say(`search.${group}`);
    return el("p", "group", el("strong", "", title), ` ${count > shown ? say("lists.first_matches", { n: count, shown }) : say("lists.matches", { n: count })}`);
  }

  function setUp(attributes, roads, filter, { openCore, choose }) {
    const [input, box] = [byId("query"), byId("results")];
    const index = new KerfbookSearchIndex.Index(attributes, roads, filter);
    const close = () => { box.hidden = true; };
    const choosing = (act, value) => () => { close(); act(value); };

    function rowOf(group, one) {
      if (group === "core") return KerfbookLists.coreButton(attributes, one, choosing(openCore, one));
      return entryButton(one, choosing(choose, one));
    }

    function show() {
      if (!input.value.trim()) {
        close();
        return;
      }
      const groups = index.find(input.value);
      const found = el("p", "note", say("lists.matches", { n: groups.reduce((sum, { count }) => sum + count, 0) }));
      found.setAttribute("role", "status");
      box.replaceChildren(...groups.map(({ group, count, top }) => el("section", "", groupHead(group, count, top.length), ...top.map((one) => rowOf(group, one)))), found);
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
