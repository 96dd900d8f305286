"use strict";
// The page around the map: title, legend, totals, notes. Every text of the run enters as a text node.
const KerfbookPanel = (() => {
  const { STATUSES, el, quoted, icon, tally, number, plural, moreButton } = KerfbookDom;
  const byId = (id) => document.getElementById(id);
  const ORDER_HEADS = ["Item", "Needed", "Order", "Reserve", "Packs"];

  function longDate(iso) {
    return new Date(`${iso}T00:00:00Z`).toLocaleDateString("en-GB", { timeZone: "UTC", day: "numeric", month: "long", year: "numeric" });
  }

  function setUpHeader(page, counts) {
    const total = counts.reduce((a, b) => a + b, 0);
    byId("title").append(quoted(page.title));
    const date = el("time", "", longDate(page.asOf));
    date.dateTime = page.asOf;
    byId("as-of").append("As of ", date, ` · ${plural(total, "core", "cores")}`);
    byId("crs").append("The audit measured in ", quoted(page.crs), "; the map draws in Web Mercator.");
  }

  // Constants and numbers only: Leaflet sets a layer's name as markup.
  function legendName(status, count, unplaced) {
    const off = unplaced ? `<span class="off">${number(unplaced)} not on the map</span>` : "";
    return `${icon(status).outerHTML}<span class="what">${STATUSES[status].label}</span>${off}<span class="count" data-status="${STATUSES[status].name}">${number(count)}</span>`;
  }

  function setUpNotes(page) {
    const unplaced = page.unplaced.reduce((a, b) => a + b, 0);
    const note = byId("unplaced-note");
    note.hidden = !unplaced;
    note.append(el("strong", "", plural(unplaced, "core", "cores")), ` ${unplaced === 1 ? "is" : "are"} not on the map: no usable position. `);
    note.append(moreButton("See which", () => {
      byId("unplaced").open = true;
      byId("unplaced").scrollIntoView({ block: "nearest" });
      byId("unplaced").querySelector("summary").focus();
    }));
    byId("unplaced").hidden = !unplaced;
    byId("unplaced").querySelector("summary").append(`Cores not on the map: ${number(unplaced)}`);
    byId("cautions").hidden = !page.cautions.length;
    byId("cautions").querySelector("ul").append(...page.cautions.map((caution) => el("li", "", quoted(caution))));
  }

  function orderTable(lines) {
    const said = (value) => (typeof value === "number" ? number(value) : quoted(value));
    const cell = (value) => el("td", "number", value === null ? "–" : said(value));
    const rows = [];
    let current;
    for (const [period, item, unit, needed, order, reserve, packs] of lines) {
      if (period !== current) {
        const head = el("th", "period", period === null ? "No period" : said(period));
        head.colSpan = ORDER_HEADS.length;
        head.scope = "colgroup";
        rows.push(el("tr", "", head));
        current = period;
      }
      const what = el("td", "", item === null ? "–" : said(item), unit === null ? null : el("span", "unit", " ", said(unit)));
      rows.push(el("tr", "", what, cell(needed), cell(order), cell(reserve), cell(packs)));
    }
    const heads = ORDER_HEADS.map((name, h) => {
      const head = el("th", h > 0 ? "number" : "", name);
      head.scope = "col";
      return head;
    });
    return el("div", "scroll", el("table", "orders", el("thead", "", el("tr", "", ...heads)), el("tbody", "", ...rows)));
  }

  function setUpDistricts(page, showDistrict) {
    const entries = page.districts.map((district) => {
      const name = district.name === null ? "In no district" : quoted(district.name);
      const body = el("div", "district-body");
      const entry = el("details", "district", el("summary", "", el("span", "district-name", name), tally(district.counts)), body);
      // Built when opened: a large programme has thousands of order lines.
      entry.addEventListener("toggle", () => {
        if (entry.open && !body.childElementCount) fillDistrict(body, district, showDistrict);
      });
      return entry;
    });
    byId("districts").append(...(entries.length ? entries : [el("p", "", "No districts and no orders in this run.")]));
  }

  function fillDistrict(body, district, showDistrict) {
    body.append(district.orders.length ? orderTable(district.orders) : el("p", "", "Nothing to order."));
    if (district.bounds) body.append(moreButton("Show on the map", () => showDistrict(district)));
  }

  function setUpSwitch(counts) {
    const button = byId("panel-switch");
    const word = el("span", "word", "Legend and totals");
    button.append(tally(counts), word);
    button.addEventListener("click", () => {
      const open = document.body.classList.toggle("panel-open");
      button.setAttribute("aria-expanded", String(open));
      word.textContent = open ? "Close" : "Legend and totals";
    });
  }

  function closeOnPhone() {
    if (document.body.classList.contains("panel-open")) byId("panel-switch").click();
  }

  function showInView(counts, isRing) {
    const parts = STATUSES.map((status, s) => `${number(counts[s])} ${status.name}`);
    byId("in-view").textContent = `In view: ${parts.join(", ")}.${isRing ? " Zoom in for single cores." : ""}`;
  }

  return { setUpHeader, legendName, setUpNotes, setUpDistricts, setUpSwitch, closeOnPhone, showInView };
})();
