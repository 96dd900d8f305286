"use strict";
// The filtered list as a CSV file, made in the page.
const KerfbookSheet = (() => {
  const { page, isoOf } = KerfbookWords;
  const { STATUSES, el } = KerfbookDom;
  // A cell that begins so would run as a formula in a spreadsheet; the wide forms do in some. Apostrophes before it are
  // a register's own, or an earlier list's.
  const RUNS = /^'*[=+\-@\t\r\n\uff0b\uff0d\uff1d\uff20]/;
  const PLAIN_NUMBER = /^[+-]\d+([.,]\d+)?$/;
  const TEXTS = ["segment_id", "street", "side", "surface", "district", "shade", "bedding"];
  const NUMBERS = ["chainage_m", "offset_m", "diameter_mm", "depth_mm", "grout_l", "grout_kg", "bags", "water_l_needed", "gravel_kg", "segment_confidence", "surface_confidence"];
  const HEADS = ["row", "core_id", "status", "findings", ...TEXTS, ...NUMBERS, "opened_on", "reinstated_at", "lat", "lon", "what_is_wrong"];
  const ALWAYS = ["row", "status", "findings", "lat", "lon", "what_is_wrong"];
  const BATCH = 20000;

  function textCell(text) {
    if (text === null) return "";
    const safe = RUNS.test(text) && !PLAIN_NUMBER.test(text) ? `'${text}` : text;
    return `"${safe.replaceAll('"', '""')}"`;
  }

  const plain = (value) => (value === null || Number.isNaN(value) ? "" : String(value));
  const dayCell = (day) => (Number.isNaN(day) ? "" : isoOf(day));

  function line(attributes, i, heads) {
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
      what_is_wrong: () => textCell(findings.map((finding) => finding.message).join(" ")),
    };
    return heads.map((name) => {
      if (cells[name]) return cells[name]();
      return TEXTS.includes(name) ? textCell(attributes.text(name, i)) : plain(attributes.number(name, i));
    }).join(",");
  }

  // In batches: a million rows as one text would need twice the memory.
  function build(attributes, places) {
    const heads = HEADS.filter((name) => ALWAYS.includes(name) || attributes.has(name));
    const parts = [`\ufeff${heads.join(",")}\r\n`];
    const sorted = Array.from(places).sort((a, b) => attributes.row(a) - attributes.row(b));
    for (let from = 0; from < sorted.length; from += BATCH) {
      parts.push(sorted.slice(from, from + BATCH).map((i) => `${line(attributes, i, heads)}\r\n`).join(""));
    }
    return new Blob(parts, { type: "text/csv;charset=utf-8" });
  }

  function save(attributes, places) {
    const link = el("a", "");
    link.href = URL.createObjectURL(build(attributes, places));
    link.download = `cores-${page.asOf}.csv`;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 60000);
  }

  return { save };
})();
