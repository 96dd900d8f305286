"use strict";
// Lists of cores on paper: of a sheet, with the number that each core has on the map, and the printed table.
const KerfbookPaperList = (() => {
  const { page, say, shortDate, dayOf, ruleLabel } = KerfbookWords;
  const { el, quoted } = KerfbookElements;
  const { STATUSES, icon, hazardIcon } = KerfbookSymbols;
  // What is wrong, in so many findings at most; the rest as a count.
  const MOST_FINDINGS = 3;
  // The columns of each list with their shares of the width.
  const SHEET = { number: 6, core: 12, state: 12, urgency: 11, along: 12, wrong: 21, permit: 26, planned: 11 };
  const TABLE = { core: 14, status: 17, urgency: 12, findings: 42, where: 19, permit: 17, dates: 29 };
  // What is shown only where the file holds one of these columns.
  const NEEDS = { urgency: ["urgency"], along: ["chainage_m"], permit: ["permit_no", "permit_expires_on"], planned: ["planned_on"], dates: ["opened_on", "reinstated_at", "planned_on"] };
  const DATES = [["opened", "opened_on"], ["reinstated", "reinstated_at"], ["planned", "planned_on"]];
  const NUMBERS = new Set(["number", "along"]);

  function columnsOf(attributes, list) {
    return Object.keys(list).filter((name) => !NEEDS[name] || NEEDS[name].some((column) => attributes.has(column)));
  }

  function head(columns, list) {
    const sum = columns.reduce((total, name) => total + list[name], 0);
    const widths = columns.map((name) => {
      const column = el("col", "");
      column.style.width = `${(100 * list[name]) / sum}%`;
      return column;
    });
    const heads = columns.map((name) => {
      const cell = el("th", NUMBERS.has(name) ? "number" : "", say(`paper.${name}`));
      cell.scope = "col";
      return cell;
    });
    return [el("colgroup", "", ...widths), el("thead", "", el("tr", "", ...heads))];
  }

  // A table with these rows; every page of a sheet has one, with its head.
  function table(attributes, rows, list = SHEET) {
    return el("table", "paper-list", ...head(columnsOf(attributes, list), list), el("tbody", "", ...rows));
  }

  function street(attributes, name) {
    const cell = el("th", "", name ? quoted(name) : say("paper.unnamed"));
    cell.colSpan = columnsOf(attributes, SHEET).length;
    cell.scope = "rowgroup";
    return el("tr", "paper-street", cell);
  }

  const ours = (name, words, found) => (found === null ? "–" : words.includes(found) ? say(`${name}.${found}`) : quoted(found));

  // What is wrong in a few words, the most urgent first: what was accepted is not.
  function wrong(attributes, i) {
    const asked = attributes.findings(i).filter(({ severity, accepted }) => severity !== "note" && accepted === null);
    const labels = [...new Set(asked.map(({ rule }) => ruleLabel(rule)))];
    const parts = labels.slice(0, MOST_FINDINGS).flatMap((label, p) => [p ? say("lists.sources") : "", quoted(label)]);
    if (labels.length > MOST_FINDINGS) parts.push(say("paper.more", { n: labels.length - MOST_FINDINGS }));
    return parts.length ? parts : ["–"];
  }

  const dayOn = (attributes, name, i) => {
    const found = attributes.bundle.days(name)[i];
    return Number.isNaN(found) ? null : found;
  };

  function permit(attributes, i) {
    const [number, expires] = [attributes.text("permit_no", i), dayOn(attributes, "permit_expires_on", i)];
    const parts = number ? [quoted(number)] : [];
    if (expires !== null) {
      const isOver = expires < dayOf(page.asOf) && attributes.isOut(i) !== "reinstated";
      const words = say(isOver ? "paper.expired" : "paper.expires", { day: shortDate(expires) });
      parts.push(number ? say("lists.between") : "", isOver ? el("strong", "", words) : words);
    }
    return parts.length ? parts : ["–"];
  }

  // Street, chainage and district, as far as they are known.
  function where(attributes, i) {
    const known = ["street", "district"].map((name) => attributes.text(name, i)).map((found) => (found === null ? null : quoted(found)));
    known.splice(1, 0, KerfbookUnits.amount(attributes.number("chainage_m", i), "m"));
    const parts = known.filter((found) => found !== null).flatMap((found, p) => [p ? say("lists.between") : "", found]);
    return parts.length ? parts : ["–"];
  }

  function dates(attributes, i) {
    const lines = DATES.map(([name, column]) => [name, dayOn(attributes, column, i)]).filter(([, found]) => found !== null)
      .map(([name, found]) => el("div", "", say(`paper.${name}_on`, { day: shortDate(found) })));
    return lines.length ? lines : ["–"];
  }

  const alongStreet = (metres) => (Number.isNaN(metres) ? "–" : KerfbookUnits.amount(Math.round(metres), "m"));
  const off = (attributes, i) => (attributes.isPlaced(i) ? null : el("span", "off", say("table.unplaced")));

  function row(attributes, i, n, { list = SHEET, metresAlong = null }) {
    const { status, unsure, hazard } = attributes.cores;
    const symbol = () => icon(status[i], unsure[i] === 1, hazard[i] ? "hazard" : attributes.text("urgency", i), state);
    const [state, planned] = [attributes.text("state", i), dayOn(attributes, "planned_on", i)];
    const cells = {
      number: () => ["number", String(n)],
      core: () => ["id", quoted(attributes.id(i)), off(attributes, i)],
      status: () => ["", symbol(), " ", STATUSES[status[i]].label, state === null ? null : el("span", "off", ours("state", page.states, state))],
      state: () => ["", symbol(), " ", state === null ? STATUSES[status[i]].label : ours("state", page.states, state)],
      urgency: () => ["", ...(hazard[i] ? [hazardIcon(), " "] : []), ours("urgency", page.urgencies, attributes.text("urgency", i))],
      along: () => ["number", alongStreet(metresAlong(i))],
      wrong: () => ["", ...wrong(attributes, i)],
      findings: () => ["", ...(attributes.findings(i).length ? [KerfbookFindings.list(attributes.findings(i))] : ["–"])],
      permit: () => ["", ...permit(attributes, i)],
      planned: () => ["", planned === null ? "–" : shortDate(planned)],
      where: () => ["", ...where(attributes, i)],
      dates: () => ["", ...dates(attributes, i)],
    };
    return el("tr", hazard[i] ? "paper-hazard" : "", ...columnsOf(attributes, list).map((name) => {
      const [className, ...children] = cells[name]();
      return el("td", className, ...children);
    }));
  }

  // The numbers of what comes first: hazards, then what is overdue.
  function first(attributes, cores) {
    const numbersOf = (isAsked) => cores.flatMap((i, c) => (isAsked(i) ? [String(c + 1)] : []));
    const hazards = numbersOf((i) => attributes.cores.hazard[i] === 1);
    const overdue = numbersOf((i) => attributes.cores.hazard[i] !== 1 && attributes.text("urgency", i) === "overdue");
    const line = (numbers, key, sign) => (numbers.length
      ? el("p", "", sign, sign && " ", el("strong", "", say(key, { n: numbers.length })), " ", say("paper.numbers", { n: numbers.length, numbers: numbers.join(say("lists.between")) })) : null);
    const lines = [line(hazards, "paper.first_hazards", hazardIcon()), line(overdue, "paper.first_overdue", null)];
    return lines.some((found) => found) ? el("div", "paper-first", ...lines) : null;
  }

  return { TABLE, table, street, row, first };
})();
