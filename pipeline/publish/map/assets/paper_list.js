"use strict";
// Lists of cores on paper: of a sheet, with the number that each core has on the map, and the printed table.
const KerfbookPaperList = (() => {
  const { page, say, shortDate, dayOf, ruleLabel } = KerfbookWords;
  const { el, quoted } = KerfbookElements;
  const { STATUSES, icon, hazardIcon } = KerfbookSymbols;
  // What is wrong, in so many findings at most; the rest as a count.
  const MOST_FINDINGS = 3;
  // Each column with its share of the width, and the columns of the file that it needs one of.
  const COLUMNS = {
    number: [4, []], core: [11, []], status: [12, []], state: [12, []], urgency: [10, ["urgency"]], chainage: [9, ["chainage_m"]], wrong: [27, []],
    permit: [24, ["permit_no", "permit_expires_on"]], planned: [11, ["planned_on"]], street: [14, []], district: [14, []], findings: [42, []],
    opened: [10, ["opened_on"]], reinstated: [12, ["reinstated_at"]],
  };
  const SHEET = ["number", "core", "state", "urgency", "chainage", "wrong", "permit", "planned"];
  const TABLE = ["core", "status", "urgency", "findings", "street", "district", "permit", "planned", "opened", "reinstated"];
  const NUMBERS = new Set(["number", "chainage"]);

  function columnsOf(attributes, names) {
    const isKept = (name) => !COLUMNS[name][1].length || COLUMNS[name][1].some((column) => attributes.has(column));
    return names.filter(isKept);
  }

  function head(columns) {
    const sum = columns.reduce((total, name) => total + COLUMNS[name][0], 0);
    const widths = columns.map((name) => {
      const column = el("col", "");
      column.style.width = `${(100 * COLUMNS[name][0]) / sum}%`;
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
  function table(attributes, rows, names = SHEET) {
    return el("table", "paper-list", ...head(columnsOf(attributes, names)), el("tbody", "", ...rows));
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
    const found = attributes.has(name) ? attributes.bundle.days(name)[i] : NaN;
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

  const day = (value) => ["", Number.isNaN(value) || value === null ? "–" : shortDate(value)];

  function text(attributes, name, i) {
    const found = attributes.text(name, i);
    return ["", found === null ? "–" : quoted(found)];
  }

  const off = (attributes, i) => (attributes.isPlaced(i) ? null : el("span", "off", say("table.unplaced")));

  function row(attributes, i, n, names = SHEET) {
    const { status, unsure, hazard } = attributes.cores;
    const symbol = () => icon(status[i], unsure[i] === 1, hazard[i] === 1);
    const state = attributes.text("state", i);
    const cells = {
      number: () => ["number", String(n)],
      core: () => ["", quoted(attributes.id(i)), off(attributes, i)],
      status: () => ["", symbol(), " ", STATUSES[status[i]].label, state === null ? null : el("span", "off", ours("state", page.states, state))],
      state: () => ["", symbol(), " ", state === null ? STATUSES[status[i]].label : ours("state", page.states, state)],
      urgency: () => ["", ...(hazard[i] ? [hazardIcon(), " "] : []), ours("urgency", page.urgencies, attributes.text("urgency", i))],
      chainage: () => ["number", KerfbookUnits.amount(attributes.number("chainage_m", i), "m") ?? "–"],
      wrong: () => ["", ...wrong(attributes, i)],
      findings: () => ["", ...(attributes.findings(i).length ? [KerfbookFindings.list(attributes.findings(i))] : ["–"])],
      permit: () => ["", ...permit(attributes, i)],
      planned: () => day(dayOn(attributes, "planned_on", i)),
      street: () => text(attributes, "street", i),
      district: () => text(attributes, "district", i),
      opened: () => day(attributes.opened[i]),
      reinstated: () => day(attributes.reinstated[i]),
    };
    return el("tr", hazard[i] ? "paper-hazard" : "", ...columnsOf(attributes, names).map((name) => {
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
