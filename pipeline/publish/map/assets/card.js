"use strict";
// The card of one core: what is wrong, what to do, where it is, what it needs.
const KerfbookCard = (() => {
  const { page, say, number, percent, degree, date, dayOf } = KerfbookWords;
  const { worksName, changeWord } = KerfbookFilterWords;
  const { el, quoted, button, copyText } = KerfbookElements;
  const { STATUSES, icon } = KerfbookSymbols;
  const { amount, weight, inUse } = KerfbookUnits;
  // A road authority waits for the utility to act.
  const IS_AUTHORITY = page.reader === "authority";
  const SOURCES = new Set(["polygon", "segment", "register", "none"]);
  // From this confidence on, the runner-up is not shown.
  const CERTAIN = 0.99;
  // The columns that a fact is made of: where the file holds none of them, the fact is left out.
  const COLUMNS = {
    chainage: ["chainage_m"], offset: ["offset_m"], surface: ["surface"], size: ["diameter_mm", "depth_mm"], weight: ["core_kg"], shade: ["shade"],
    bedding: ["bedding"], grout: ["grout_l", "grout_kg", "bags"], water: ["water_l_needed"], gravel: ["gravel_kg"],
    opened: ["opened_on"], reinstated: ["reinstated_at"], road_class: ["road_class"], authority: ["road_authority"],
    permit: ["permit_no", "permit_expires_on"], works: ["works_id"], changed: ["change"],
  };

  function fact(key, ...parts) {
    const known = parts.filter((part) => part !== null && part !== undefined && part !== "");
    const value = el("dd", known.length ? "" : "missing");
    known.forEach((part, p) => value.append(p ? say("lists.between") : "", typeof part === "string" ? quoted(part) : part));
    if (!known.length) value.append(say("card.not_known"));
    const made = el("div", "fact", el("dt", "", say(`card.${key}`)), value);
    made.dataset.fact = key;
    return made;
  }

  const dayOrNull = (day) => (Number.isNaN(day) ? null : date(day));
  const sideWord = (side) => (side === "left" || side === "right" ? say(`card.${side}`) : side);

  class Cards {
    constructor(attributes) { this.attributes = attributes; }

    known(facts) {
      return facts.filter(({ dataset: { fact: key } }) => !COLUMNS[key] || COLUMNS[key].some((name) => this.attributes.has(name)));
    }

    number(name, i) { return this.attributes.number(name, i); }

    text(name, i) { return this.attributes.text(name, i); }

    // Only the largest districts have a row in the report.
    districtOf(i) {
      const name = this.text("district", i);
      return page.reportDistricts.includes(name) ? KerfbookFindings.inReport("district", name, quoted(name)) : name;
    }

    // Only some streets have a row in the report; an uncertain street is two names.
    streetOf(i) {
      const words = this.choice(i, "street", "segment_confidence", "runner_up_street", "runner_up_confidence");
      const name = this.text("street", i);
      return words.length > 1 || !page.reportStreets.includes(name) ? words : [KerfbookFindings.inReport("street", name, quoted(name))];
    }

    // Both candidates, unless the first is as good as certain.
    choice(i, name, chance, next, nextChance) {
      const [first, confidence] = [this.text(name, i), this.number(chance, i)];
      const other = this.number(nextChance, i);
      if (confidence === null || confidence > CERTAIN || !other) return [first];
      const noName = say("card.no_name");
      return [
        say("card.first", { name: first || noName, share: percent(confidence) }),
        say("card.second", { name: this.text(next, i) || noName, share: percent(other) }),
      ];
    }

    where(i) {
      const offset = amount(this.number("offset_m", i), "m");
      const side = this.text("side", i);
      const chainage = amount(this.number("chainage_m", i), "m");
      return [
        fact("street", ...this.streetOf(i)),
        fact("authority", this.text("road_authority", i)),
        fact("road_class", this.text("road_class", i)),
        fact("segment", ...this.choice(i, "segment_id", "segment_confidence", "runner_up_id", "runner_up_confidence")),
        fact("chainage", chainage && say("card.along", { length: chainage })),
        fact("offset", offset && (side ? say("card.to_side", { length: offset, side: sideWord(side) }) : say("card.aside", { length: offset }))),
        fact("district", this.districtOf(i)),
        fact("position", this.position(i)),
        fact("works", ...(this.listed("works_id", i, worksName) ?? [say("card.no_works")])),
      ];
    }

    // The texts of a list in words; null where the core has none.
    listed(name, i, inWords) {
      const found = this.attributes.entries(name, i).map(inWords);
      return found.length ? found : null;
    }

    day(name, i) { return this.attributes.has(name) ? dayOrNull(this.attributes.day(name, i)) : null; }

    // Number and last day; whether it was still valid on the day of the audit.
    permit(i) {
      const [permit, expires] = [this.text("permit_no", i), this.day("permit_expires_on", i)];
      if (!permit && !expires) return [this.attributes.has("permit_no") ? say("card.no_permit") : null];
      if (!expires) return [permit, this.attributes.has("permit_expires_on") ? say("card.no_expiry") : null];
      const isExpired = this.attributes.day("permit_expires_on", i) < dayOf(page.asOf);
      return [permit, isExpired ? el("strong", "expired", say("card.expired", { day: expires })) : say("card.valid_until", { day: expires })];
    }

    // What happened when: what has no date is left out, but for opening, reinstatement and permit.
    dates(i) {
      const inspected = [this.day("inspected_on", i), this.attributes.has("inspection_result") ? this.text("inspection_result", i) : null];
      const since = dayOf(page.since);
      const optional = [
        ["plated", this.day("plated_on", i)], ["interim", this.day("interim_on", i)], ["planned_on", this.day("planned_on", i)],
        ["notice", this.day("notice_sent_on", i)], ["inspected", ...inspected],
        ["flush", amount(this.number("flush_mm", i), "mm")], ["depression", amount(this.number("depression_mm", i), "mm")],
      ];
      const changed = fact("changed", ...(this.listed("change", i, changeWord) ?? [say("card.unchanged")]));
      if (since !== null) changed.firstElementChild.textContent = say("card.changed_since", { day: date(since) });
      return [
        fact("opened", dayOrNull(this.attributes.opened[i])),
        fact("reinstated", dayOrNull(this.attributes.reinstated[i]) || say("card.no_date")),
        fact("permit", ...this.permit(i)),
        ...optional.filter(([, ...values]) => values.some(Boolean)).map(([key, ...values]) => fact(key, ...values)),
        changed,
      ];
    }

    position(i) {
      const position = this.attributes.position(i);
      if (!position) return say("card.unplaced");
      const [lat, lon] = position.map((degrees) => degree(Number(degrees)));
      const text = position.join(", ");
      return el("span", "", say("card.at", { lat, lon }), " ", button(say("card.copy"), () => copyText(text, say("card.copied", { text })), "more copy"));
    }

    needs(i) {
      const bags = this.number("bags", i);
      const across = amount(this.number("diameter_mm", i), "mm");
      const deep = amount(this.number("depth_mm", i), "mm");
      const about = weight(this.number("core_kg", i));
      const from = this.text("surface_from", i);
      const planned = this.attributes.has("planned") && this.text("planned", i);
      return [
        fact("surface", ...this.choice(i, "surface", "surface_confidence", "surface_next", "surface_next_confidence"),
          from && (SOURCES.has(from) ? say(`card.surface_${from}`) : from)),
        fact("size", across && say("card.across", { length: across }), deep && say("card.deep", { length: deep })),
        fact("weight", about && say("card.about", { weight: about })),
        fact("shade", this.text("shade", i)),
        fact("bedding", this.text("bedding", i)),
        fact("grout", amount(this.number("grout_l", i), "L"), amount(this.number("grout_kg", i), "kg"), bags === null ? null : say("card.bags", { n: bags })),
        fact("water", amount(this.number("water_l_needed", i), "L")),
        fact("gravel", amount(this.number("gravel_kg", i), "kg")),
        ...(planned ? [fact("planned", planned)] : []),
      ];
    }

    // One sentence that the reader can act on, for the state that the core is in.
    advice(i, findings) {
      const state = this.attributes.isOut(i);
      if (STATUSES[this.attributes.cores.status[i]].name === "flagged") {
        // failures of the register alone say nothing against the work
        const failures = findings.filter((finding) => finding.severity === "fail");
        const ofRecord = state === "reinstated" && failures.length > 0 && failures.every((finding) => finding.urgency === "record");
        const what = ofRecord ? "record" : state;
        return say(IS_AUTHORITY ? `card.asks_flagged_${what}` : `card.do_flagged_${what}`);
      }
      const check = findings.some((finding) => finding.severity === "check" && finding.accepted === null) ? "_check" : "";
      if (state === "reinstated") return say(IS_AUTHORITY ? `card.asks_reinstated${check}` : `card.do_reinstated${check}`);
      if (IS_AUTHORITY) return say(`card.asks_open${check}`);
      if (!this.attributes.has("bags")) return say(`card.do_open${check}`);
      if (this.number("bags", i) === null) return say(findings.length ? "card.do_resolve" : "card.do_no_size");
      return say(`card.do_materials${check}`);
    }

    // Where the file does not say which state a core is in, it counts as not known.
    cautions(i) {
      const { lines, by, byMachine, byHand, notKnown, mostByHand } = page.coreCautions;
      const bySurface = by[this.text("state", i) || ""] || {};
      const chosen = bySurface[this.text("surface", i) || ""] || [];
      const kg = this.number("core_kg", i);
      const lifting = kg === null ? notKnown : (kg > mostByHand ? byMachine : byHand).replace("{weight}", weight(kg));
      return el("section", "cautions", el("h3", "", say("card.cautions")),
        el("ul", "", ...[...chosen.map((line) => lines[line]), lifting].map((line) => el("li", "", quoted(line)))));
    }

    // State and urgency beside the status: words of ours, or what the file holds.
    chips(i) {
      return [["state", page.states], ["urgency", page.urgencies]].flatMap(([name, ours]) => {
        const word = this.text(name, i);
        return word ? [" ", el("span", `chip ${name}`, ours.includes(word) ? say(`${name}.${word}`) : quoted(word))] : [];
      });
    }

    // A row moves between runs, so only the utility, who keeps the register, has a use for it.
    row(i) {
      return IS_AUTHORITY ? [] : [` ${say("card.row", { row: number(this.attributes.row(i)) })}`];
    }

    build(i) {
      const { attributes } = this;
      const status = attributes.cores.status[i];
      const findings = attributes.findings(i);
      const isUnsure = attributes.cores.unsure[i] === 1;
      const card = el("article", "card",
        el("h2", "", icon(status, isUnsure, attributes.cores.hazard[i] === 1), quoted(attributes.id(i))),
        el("p", "sub", el("span", `chip ${STATUSES[status].name}`, STATUSES[status].label), ...this.chips(i), ...this.row(i)),
        findings.length ? KerfbookFindings.list(findings) : el("p", "clear", say("card.no_finding")),
        el("p", "advice", el("strong", "", say(IS_AUTHORITY ? "card.asks" : "card.do")), " ", this.advice(i, findings)),
        el("dl", "", ...this.known(this.dates(i))),
        el("dl", "", ...this.known(this.where(i))),
        page.coreCautions ? this.cautions(i) : null,
        el("dl", "", ...this.known(this.needs(i))));
      if (findings.length && inUse() === "us") card.append(el("p", "hint", say("card.findings_metric")));
      return card;
    }
  }

  return { Cards };
})();
