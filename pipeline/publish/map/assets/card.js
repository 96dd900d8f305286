"use strict";
// The card of one core: what it is, where, what it needs, what is wrong with it and what to do.
const KerfbookCard = (() => {
  const { say, number, percent, degree, date } = KerfbookWords;
  const { STATUSES, el, quoted, icon, button, announce } = KerfbookDom;
  const { amount, inUse } = KerfbookMeasures;
  const { SEVERITIES } = KerfbookFilter;
  const SOURCES = ["polygon", "segment", "register", "none"];
  const SURE = 0.99;
  // What each fact is told by: where the file holds none of it, nothing is said of it.
  const FROM = {
    chainage: ["chainage_m"], offset: ["offset_m"], surface: ["surface"], size: ["diameter_mm", "depth_mm"], shade: ["shade"],
    bedding: ["bedding"], grout: ["grout_l", "grout_kg", "bags"], water: ["water_l_needed"], gravel: ["gravel_kg"],
    opened: ["opened_on"], reinstated: ["reinstated_at"],
  };

  function fact(key, ...parts) {
    const said = parts.filter((part) => part !== null && part !== undefined && part !== "");
    const value = el("dd", said.length ? "" : "missing");
    said.forEach((part, p) => value.append(p ? say("lists.between") : "", typeof part === "string" ? quoted(part) : part));
    if (!said.length) value.append(say("card.not_known"));
    const made = el("div", "fact", el("dt", "", say(`card.${key}`)), value);
    made.dataset.fact = key;
    return made;
  }

  function findingItem({ severity, rule, message }) {
    const isKnown = SEVERITIES.includes(severity);
    return el("li", isKnown ? severity : "note",
      el("strong", "", isKnown ? say(`severity.${severity}`) : quoted(severity)), " ",
      quoted(message), " ", el("span", "rule", quoted(rule)));
  }

  class Cards {
    constructor(attributes) { this.attributes = attributes; }

    known(facts) {
      return facts.filter(({ dataset: { fact: key } }) => !FROM[key] || FROM[key].some((name) => this.attributes.has(name)));
    }

    number(name, i) { return this.attributes.number(name, i); }

    text(name, i) { return this.attributes.text(name, i); }

    // Both candidates where the first is not as good as certain.
    choice(i, name, chance, next, nextChance) {
      const [first, sure] = [this.text(name, i), this.number(chance, i)];
      const other = this.number(nextChance, i);
      if (sure === null || sure > SURE || !other) return [first];
      const noName = say("card.no_name");
      return [
        say("card.first", { name: first || noName, share: percent(sure) }),
        say("card.second", { name: this.text(next, i) || noName, share: percent(other) }),
      ];
    }

    place(i) {
      const offset = amount(this.number("offset_m", i), "m");
      const side = this.text("side", i);
      const chainage = amount(this.number("chainage_m", i), "m");
      const position = this.attributes.position(i);
      const placed = position && say("card.at", { lat: degree(Number(position[0])), lon: degree(Number(position[1])) });
      const copy = position && button(say("card.copy"), () => copyText(position.join(", ")), "more copy");
      return [
        fact("street", ...this.choice(i, "street", "segment_confidence", "runner_up_street", "runner_up_confidence")),
        fact("segment", ...this.choice(i, "segment_id", "segment_confidence", "runner_up_id", "runner_up_confidence")),
        fact("chainage", chainage && say("card.along", { length: chainage })),
        fact("offset", offset && (side ? say("card.to_side", { length: offset, side: sideWord(side) }) : say("card.aside", { length: offset }))),
        fact("district", this.text("district", i)),
        fact("position", position ? el("span", "", placed, " ", copy) : say("card.unplaced")),
      ];
    }

    needs(i) {
      const bags = this.number("bags", i);
      const grout = [amount(this.number("grout_l", i), "L"), amount(this.number("grout_kg", i), "kg"), bags === null ? null : say("card.bags", { n: bags })];
      const across = amount(this.number("diameter_mm", i), "mm");
      const deep = amount(this.number("depth_mm", i), "mm");
      const from = this.text("surface_from", i);
      return [
        fact("surface", ...this.choice(i, "surface", "surface_confidence", "surface_next", "surface_next_confidence"),
          from && (SOURCES.includes(from) ? say(`card.surface_${from}`) : from)),
        fact("size", across && say("card.across", { length: across }), deep && say("card.deep", { length: deep })),
        fact("shade", this.text("shade", i)),
        fact("bedding", this.text("bedding", i)),
        fact("grout", ...grout),
        fact("water", amount(this.number("water_l_needed", i), "L")),
        fact("gravel", amount(this.number("gravel_kg", i), "kg")),
        fact("opened", day(this.attributes.opened[i])),
        fact("reinstated", day(this.attributes.reinstated[i]) || say("card.no_date")),
      ];
    }

    // One sentence that a crew or an inspector can act on.
    advice(i, findings) {
      const status = STATUSES[this.attributes.cores.status[i]].name;
      if (findings.some((finding) => finding.severity === "fail")) return say("card.do_flagged");
      if (status === "flagged") return say("card.do_flagged");
      const isDoubtful = findings.some((finding) => finding.severity === "check");
      if (status === "pending" && !this.attributes.has("bags")) return say(isDoubtful ? "card.do_open_check" : "card.do_open");
      if (status === "pending" && this.number("bags", i) === null) return say("card.do_unknown");
      return say(`card.do_${status}${isDoubtful ? "_check" : ""}`);
    }

    build(i) {
      const { attributes } = this;
      const status = attributes.cores.status[i];
      const findings = attributes.findings(i);
      const isUnsure = attributes.cores.unsure[i] === 1;
      const card = el("article", "card",
        el("h2", "", icon(status, isUnsure), quoted(attributes.id(i))),
        el("p", "sub", el("span", `chip ${STATUSES[status].name}`, STATUSES[status].label), ` ${say("card.row", { row: number(attributes.row(i)) })}`),
        findings.length ? el("ul", "findings", ...findings.map(findingItem)) : el("p", "clear", say("card.no_finding")),
        el("p", "advice", el("strong", "", say("card.do")), " ", this.advice(i, findings)),
        el("dl", "", ...this.known(this.place(i))),
        el("dl", "", ...this.known(this.needs(i))));
      if (findings.length && inUse() === "us") card.append(el("p", "hint", say("card.findings_metric")));
      return card;
    }
  }

  const day = (number_) => (Number.isNaN(number_) ? null : date(number_));

  function sideWord(side) {
    return side === "left" || side === "right" ? say(`card.${side}`) : side;
  }

  async function copyText(text) {
    try {
      await navigator.clipboard.writeText(text);
    } catch {
      // No clipboard for this page, or not allowed: the old way, by a selection.
      const box = el("textarea", "unseen");
      box.value = text;
      (document.querySelector("dialog[open]") || document.body).append(box);
      box.select();
      document.execCommand("copy");
      box.remove();
    }
    announce(say("card.copied", { text }));
  }

  return { Cards, copyText };
})();
