"use strict";
// The filtered list saved as a CSV file.
const KerfbookSaveCsv = (() => {
  const { page, isoOf } = KerfbookWords;
  const { el } = KerfbookElements;
  const { STATUSES } = KerfbookSymbols;
  // A cell that begins like this would run as a formula in a spreadsheet; the full-width signs do in some. Apostrophes
  // before it are the register's own, or an earlier list's.
  const FORMULA = /^'*[=+\-@\t\r\n\uff0b\uff0d\uff1d\uff20]/;
  const PLAIN_NUMBER = /^[+-]\d+([.,]\d+)?$/;
  // A part that would run where a spreadsheet splits lines at semicolons, tabs or bars; a signed number is none.
  const PART = /([;|\t\r\n])(?=['" \xa0]*[=+\-@\uff0b\uff0d\uff1d\uff20])(?![ \xa0]*[+-]\d+([.,]\d+)?[ \xa0]*([;|\t\r\n]|$))/g;
  const TEXTS = ["segment_id", "street", "side", "surface", "district", "shade", "bedding"];
  // Added to the end, so that earlier columns keep their places.
  const ADDED_TEXTS = ["road_authority", "road_class", "permit_no", "inspection_result"];
  const DAYS = ["permit_expires_on", "plated_on", "interim_on", "planned_on", "notice_sent_on", "inspected_on"];
  // Texts of which a core may have several, by the column that holds them.
  const LISTED = { changes: "change", works: "works_id" };
  const ADDED = [...ADDED_TEXTS, ...DAYS, "flush_mm", "depression_mm", ...Object.keys(LISTED)];
  const TEXT_COLUMNS = new Set([...TEXTS, ...ADDED_TEXTS, "state", "urgency"]);
  const NUMBERS = ["chainage_m", "offset_m", "diameter_mm", "depth_mm", "grout_l", "grout_kg", "bags", "water_l_needed", "gravel_kg", "segment_confidence", "surface_confidence"];
  const COLUMNS = ["row", "core_id", "status", "findings", ...TEXTS, ...NUMBERS, "opened_on", "reinstated_at", "lat", "lon", "what_is_wrong", "state", "urgency", "core_kg", ...ADDED];
  const ALWAYS = new Set(["row", "status", "findings", "lat", "lon", "what_is_wrong"]);
  const BATCH = 20000;

  function textCell(text) {
    if (text === null) return "";
    const begin = FORMULA.test(text) && !PLAIN_NUMBER.test(text) ? "'" : "";
    const safe = `${begin}${text.replace(PART, "$1'")}`;
    return `"${safe.replaceAll('"', '""')}"`;
  }

  const plain = (value) => (value === null || Number.isNaN(value) ? "" : String(value));
  const dayCell = (day) => (Number.isNaN(day) ? "" : isoOf(day));

  const sentence = ({ message, accepted }) => (accepted === null ? message : `${message} (${KerfbookFindings.acceptedWords(accepted)})`);

  function line(attributes, i, columns) {
    const findings = attributes.findings(i);
    const rules = [...new Set(findings.map((finding) => finding.rule))].sort();
    const [lat, lon] = attributes.position(i) || ["", ""];
    const cells = {
      row: () => attributes.row(i),
      core_id: () => textCell(attributes.text("core_id", i)),
      status: () => STATUSES[attributes.cores.status[i]].name,
      findings: () => textCell(rules.join(";")),
      opened_on: () => dayCell(attributes.opened[i]),
      reinstated_at: () => dayCell(attributes.reinstated[i]),
      lat: () => lat,
      lon: () => lon,
      changes: () => textCell(attributes.entries("change", i).join(";") || null),
      works: () => textCell(attributes.entries("works_id", i).map(KerfbookFilterWords.worksTitle).join(";") || null),
      what_is_wrong: () => textCell(findings.map(sentence).join(" ")),
    };
    return columns.map((name) => {
      if (cells[name]) return cells[name]();
      if (DAYS.includes(name)) return dayCell(attributes.day(name, i));
      return TEXT_COLUMNS.has(name) ? textCell(attributes.text(name, i)) : plain(attributes.number(name, i));
    }).join(",");
  }

  // In batches: a million rows as one text would need twice the memory.
  function build(attributes, indices) {
    const columns = COLUMNS.filter((name) => ALWAYS.has(name) || attributes.has(LISTED[name] ?? name));
    const parts = [`\ufeff${columns.join(",")}\r\n`];
    const sorted = Array.from(indices).sort((a, b) => attributes.row(a) - attributes.row(b));
    for (let from = 0; from < sorted.length; from += BATCH) {
      parts.push(sorted.slice(from, from + BATCH).map((i) => `${line(attributes, i, columns)}\r\n`).join(""));
    }
    return new Blob(parts, { type: "text/csv;charset=utf-8" });
  }

  function save(attributes, indices) {
    const link = el("a", "");
    link.href = URL.createObjectURL(build(attributes, indices));
    link.download = `cores-${page.asOf}.csv`;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 60000);
  }

  return { save };
})();
