"use strict";
// The columns of the table: what each shows of a core, what it is sorted by, and which come first.
const KerfbookTableRows = (() => {
  const { page: facts, say, shortDate, ruleLabel } = KerfbookWords;
  const { el, quoted, button } = KerfbookElements;
  const { STATUSES, icon, hazardIcon } = KerfbookSymbols;
  // The first ten fit beside the panel at a width of 1,400 pixels.
  const COLUMNS = ["core", "status", "state", "urgency", "findings", "street", "district", "opened", "reinstated", "planned", "permit", "expires", "authority", "surface", "chainage"];
  // On a phone, what shows without moving sideways comes first.
  const NARROW = ["core", "urgency", "findings", "status", "street", "reinstated", "opened", "state", "district", "planned", "permit", "expires", "authority", "surface", "chainage"];
  // The column of the file that each shows; without it, the table has no such column.
  const SHOWS = {
    state: "state", urgency: "urgency", street: "street", district: "district", opened: "opened_on", reinstated: "reinstated_at",
    planned: "planned_on", permit: "permit_no", expires: "permit_expires_on", authority: "road_authority", surface: "surface", chainage: "chainage_m",
  };
  const DAYS = new Set(["opened", "reinstated", "planned", "expires"]);
  // Words of ours, sorted by what they mean.
  const OURS = { urgency: facts.urgencies, state: facts.states };
  const NONE = "–";

  const columns = (attributes, isNarrow) => (isNarrow ? NARROW : COLUMNS).filter((name) => !SHOWS[name] || attributes.has(SHOWS[name]));

  // The rank of each text in a list without its nulls; "HV-" and "hv-" have the same.
  function ranks(words) {
    const rank = new Float64Array(words.length + 1).fill(NaN);
    let [last, r] = [null, -1];
    words.map((word, w) => [word.toLowerCase(), w]).sort((a, b) => (a[0] < b[0] ? -1 : a[0] > b[0] ? 1 : 0)).forEach(([word, w]) => {
      if (word !== last) r += 1;
      last = word;
      rank[w] = r;
    });
    return rank;
  }

  // What a column is sorted by: columns of numbers, the one that counts most last; NaN for what is missing.
  function keys(attributes, name) {
    const { bundle } = attributes;
    if (name === "status") return [attributes.cores.status];
    if (name === "opened") return [attributes.opened];
    if (name === "reinstated") return [attributes.reinstated];
    if (DAYS.has(name)) return [bundle.days(SHOWS[name])];
    if (name === "chainage") return [bundle.numbers("chainage_m")];
    if (name === "findings") return [Int32Array.from({ length: attributes.cores.all }, (_, i) => attributes.firstFinding[i] - attributes.firstFinding[i + 1])];
    const shown = SHOWS[name] || "core_id";
    const { words, kind, numbers } = bundle.how(shown);
    if (OURS[name]) return [Float64Array.from(bundle.codes(shown), (code) => (OURS[name].includes(words[code]) ? OURS[name].indexOf(words[code]) : NaN))];
    const rank = ranks(words);
    const byWord = Float64Array.from(bundle.codes(shown), (code) => (code < 0 ? NaN : rank[code]));
    // An id is a text and a number: C-9 comes before C-10.
    return kind === "id" ? [bundle.ints(numbers), byWord] : [byWord];
  }

  // A finding in few words: the most urgent, and how many more; a press shows the sentences.
  function findingsCell(findings, isOpen, onToggle) {
    if (!findings.length) return el("td", "", NONE);
    const [{ severity, rule, urgency, accepted }] = findings;
    const more = findings.length > 1 ? el("span", "others", say("table.others", { n: findings.length - 1 })) : null;
    const badge = button("", onToggle, `badge ${accepted === null ? severity : "accepted"}`);
    if (urgency === "hazard") badge.append(hazardIcon());
    badge.append(el("span", "rule", quoted(ruleLabel(rule))));
    if (more) badge.append(" ", more);
    badge.setAttribute("aria-expanded", String(isOpen));
    return el("td", "wrong", badge);
  }

  function statusCell(attributes, i) {
    const { status, unsure, hazard } = attributes.cores;
    const made = el("td", "status-cell", icon(status[i], unsure[i] === 1, hazard[i] === 1), " ", STATUSES[status[i]].label);
    // The finding beside it is seen to say so; for three more words the column would need half as much room again.
    if (!attributes.isPlaced(i)) made.append(el("span", "unseen", ` ${say("table.unplaced")}`));
    return made;
  }

  function dayOf(attributes, name, i) {
    if (name === "opened") return attributes.opened[i];
    if (name === "reinstated") return attributes.reinstated[i];
    return attributes.bundle.days(SHOWS[name])[i];
  }

  function textCell(attributes, name, i) {
    const found = attributes.text(SHOWS[name], i);
    const made = el("td", OURS[name] ? "word" : "text");
    if (found === null) made.append(NONE);
    else if (OURS[name]?.includes(found)) made.append(say(`${name}.${found}`));
    else made.append(quoted(found));
    return made;
  }

  function cell(attributes, name, i) {
    if (DAYS.has(name)) {
      const day = dayOf(attributes, name, i);
      return el("td", "day", Number.isNaN(day) ? NONE : shortDate(day));
    }
    if (name === "chainage") return el("td", "number", KerfbookUnits.amount(attributes.number("chainage_m", i), "m") ?? NONE);
    return name === "status" ? statusCell(attributes, i) : textCell(attributes, name, i);
  }

  // The row of core i, and below it its findings where they are open.
  function build(attributes, i, { names, isOpen, onCore, onToggle }) {
    const findings = attributes.findings(i);
    const head = el("th", "", button(quoted(attributes.id(i)), onCore, "link"));
    head.scope = "row";
    const special = { core: () => head, findings: () => findingsCell(findings, isOpen, onToggle) };
    const row = el("tr", attributes.cores.hazard[i] === 1 ? "hazard" : "", ...names.map((name) => (special[name] ? special[name]() : cell(attributes, name, i))));
    row.dataset.core = String(i);
    if (!isOpen || !findings.length) return [row];
    const all = el("td", "opened", el("div", "", KerfbookFindings.list(findings)));
    all.colSpan = names.length;
    return [row, el("tr", "detail", all)];
  }

  return { columns, keys, build };
})();
