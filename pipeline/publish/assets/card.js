"use strict";
// The card of one core: what it is, where, what it needs, what is wrong with it.
const KerfbookCard = (() => {
  const { STATUSES, el, quoted, icon, number, plural, readJson, valueAt, runningSum } = KerfbookDom;
  const WORLD = 2 ** 30;
  const SEVERITIES = { fail: "Fail", check: "Check", note: "Note" };
  const SURFACE_FROM = {
    polygon: "from the surface polygon it lies in",
    segment: "from its road segment",
    register: "from the register alone",
    none: "from no source",
  };

  // The cards' data is the bulk of the file: read when the first card or search asks for it.
  let parsed = null;
  function data() {
    if (!parsed) {
      parsed = readJson("card-data");
      parsed.findings.core = runningSum(parsed.findings.core);
    }
    return parsed;
  }

  const textOf = (name, i) => valueAt(data().text[name], i);
  const numberOf = (name, i) => valueAt(data().number[name], i);

  function amount(name, i, unit) {
    const value = numberOf(name, i);
    return value === null ? null : `${number(value)} ${unit}`;
  }

  function idOf(i) {
    return textOf("core_id", i) || "no id";
  }

  function findingsOf(i) {
    const { core } = data().findings;
    let [low, high] = [0, core.length];
    while (low < high) {
      const middle = (low + high) >>> 1;
      if (core[middle] < i) low = middle + 1;
      else high = middle;
    }
    const found = [];
    for (let f = low; f < core.length && core[f] === i; f += 1) found.push(f);
    return found;
  }

  function latLngOf(cores, i) {
    const y = Math.PI * (1 - (2 * cores.y[i]) / WORLD);
    return [(Math.atan(Math.sinh(y)) * 180) / Math.PI, (cores.x[i] / WORLD) * 360 - 180];
  }

  function fact(name, ...parts) {
    const said = parts.filter((part) => part !== null && part !== undefined && part !== "");
    const value = el("dd", said.length ? "" : "missing");
    said.forEach((part, p) => value.append(p ? ", " : "", typeof part === "string" ? quoted(part) : part));
    if (!said.length) value.append("not known");
    return el("div", "fact", el("dt", "", name), value);
  }

  function findingItem(f) {
    const { severity, rule, message } = data().findings;
    const grade = valueAt(severity, f);
    return el("li", Object.hasOwn(SEVERITIES, grade) ? grade : "note",
      el("strong", "", SEVERITIES[grade] || quoted(String(grade))), " ",
      quoted(valueAt(message, f) || ""), " ", el("span", "rule", quoted(valueAt(rule, f) || "")));
  }

  function need(i) {
    const bags = numberOf("bags", i);
    return [amount("grout_l", i, "L"), amount("grout_kg", i, "kg"), bags === null ? null : plural(bags, "bag", "bags")];
  }

  // Both candidates where the first is not as good as certain.
  function choice(name, chance, next, nextChance, i) {
    const sure = numberOf(chance, i);
    const other = numberOf(nextChance, i);
    if (sure === null || sure > 0.99 || !other) return [name];
    const share = (part) => `${Math.round(part * 100)} %`;
    return [`${name || "no name"}: ${share(sure)}`, `or ${next || "no name"}: ${share(other)}`];
  }

  function place(cores, i) {
    const offset = amount("offset_m", i, "m");
    const side = textOf("side", i);
    const chainage = amount("chainage_m", i, "m");
    const position = i < cores.count ? latLngOf(cores, i).map((degrees) => degrees.toFixed(6)).join(", ") : "unplaced: no usable position";
    return [
      fact("Street", ...choice(textOf("street", i), "segment_confidence", textOf("runner_up_street", i), "runner_up_confidence", i)),
      fact("Road segment", ...choice(textOf("segment_id", i), "segment_confidence", textOf("runner_up_id", i), "runner_up_confidence", i)),
      fact("Chainage", chainage && `${chainage} along the segment`),
      fact("Offset", offset && (side ? `${offset} ${side} of the centreline` : `${offset} from the centreline`)),
      fact("District", textOf("district", i)),
      fact("Lat, lon", position),
    ];
  }

  function work(i) {
    const from = textOf("surface_from", i);
    const [across, deep] = [amount("diameter_mm", i, "mm across"), amount("depth_mm", i, "mm deep")];
    const water = amount("water_l_needed", i, "L");
    const gravel = amount("gravel_kg", i, "kg");
    return [
      fact("Surface", ...choice(textOf("surface", i), "surface_confidence", textOf("surface_next", i), "surface_next_confidence", i), from && (SURFACE_FROM[from] || from)),
      fact("Size", across, deep),
      fact("Grout shade", textOf("shade", i)),
      fact("Bedding", textOf("bedding", i)),
      fact("Grout needed", ...need(i)),
      fact("Water needed", water),
      fact("Gravel needed", gravel),
      fact("Opened on", textOf("opened_on", i)),
      fact("Reinstated", textOf("reinstated_at", i) || "no date"),
    ];
  }

  function build(cores, i) {
    const status = cores.statusOf(i);
    const findings = findingsOf(i);
    const heading = el("h3", "", icon(status), quoted(idOf(i)));
    return el("article", "card",
      heading,
      el("p", "sub", el("span", `chip ${STATUSES[status].name}`, STATUSES[status].label), ` register row ${number(data().row[i])}`),
      findings.length ? el("ul", "findings", ...findings.map(findingItem)) : el("p", "clear", "No finding about this core."),
      el("dl", "", ...place(cores, i)),
      el("dl", "", ...work(i)));
  }

  return { build, data, idOf, textOf, latLngOf };
})();
