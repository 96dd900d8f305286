"use strict";
// Lists of cores beside the map, a page of rows at a time.
const KerfbookLists = (() => {
  const { say } = KerfbookWords;
  const { el, quoted, button } = KerfbookElements;
  const { STATUSES, icon } = KerfbookSymbols;
  const PAGE = 25;

  function coreButton(attributes, i, open) {
    const { status, unsure, hazard } = attributes.cores;
    const street = attributes.text("street", i);
    const made = button(icon(status[i], unsure[i] === 1, hazard[i] === 1), () => open(i), "row");
    made.append(el("span", "row-id", quoted(attributes.id(i))), el("span", "unseen", `, ${STATUSES[status[i]].label}, `), el("span", "row-street", street ? quoted(street) : ""));
    return made;
  }

  // Page by page: a hundred thousand buttons would stop any browser.
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

  return { coreButton, fillPaged };
})();
