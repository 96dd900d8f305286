"use strict";
// The questions that a filter asks of a core, and what each is answered from.
const KerfbookQuestions = (() => {
  const { page, say, dayOf } = KerfbookWords;
  const { foldStreet } = KerfbookFolding;
  const { STATUSES } = KerfbookSymbols;
  const CHOICES = ["status", "urgency", "out", "state", "severity", "rule", "authority", "district", "street", "road_class",
    "surface", "shade", "permit", "permit_no", "works", "works_kind", "changed"];
  const RANGES = ["opened", "reinstated"];
  const QUESTIONS = [...CHOICES, ...RANGES, "open"];
  // Asked by answers and search, and not listed in the panel: "state" or a text box is there.
  const UNLISTED = ["status", "out", "permit_no", "works_kind"];
  // The columns that a question needs; without them it is not offered.
  const NEEDS = {
    urgency: ["urgency"], state: ["state"], surface: ["surface"], shade: ["shade"], opened: ["opened_on"], reinstated: ["reinstated_at"],
    open: ["opened_on", "reinstated_at"], authority: ["road_authority"], street: ["street"], road_class: ["road_class"],
    permit: ["permit_expires_on"], permit_no: ["permit_no"], works: ["works_id_core"], works_kind: ["works_id_core"], changed: ["change_core"],
  };
  // Questions with several answers to a core, and the column that names the core of each.
  const LISTS = { severity: "finding", rule: "finding", works: "works_id", works_kind: "works_id", changed: "change" };
  const COLUMNS = { severity: "finding_severity", rule: "finding_rule", authority: "road_authority", works: "works_id", works_kind: "works_id", changed: "change" };
  const PERMITS = ["valid", "expired", "none", "no_expiry"];
  const OUT = ["open", "reinstated", "unknown"];
  // Wanted of a question: any of its words.
  const ANY = Symbol("any word");

  // Texts that were cut to the same beginning are one choice.
  function merge(words, codes) {
    const unique = [...new Set(words)];
    if (unique.length === words.length) return { words, codes };
    const codeOf = new Map(unique.map((word, w) => [word, w]));
    return { words: unique, codes: Int32Array.from(codes, (code) => (code < 0 ? -1 : codeOf.get(words[code]))) };
  }

  // A street of the network and the same street as the register names it, of cores off the network, are one choice.
  function streets({ words, codes }) {
    const [before, after] = say("card.street_recorded", { street: "\n" }).split("\n");
    const isRecorded = (word) => word.startsWith(before) && word.endsWith(after);
    const network = words.filter((word) => !isRecorded(word));
    const named = new Map([...[...network].reverse().map((word) => [foldStreet(word) || word, word]), ...network.map((word) => [word, word])]);
    const meant = (word) => {
      const name = word.slice(before.length, word.length - after.length);
      return named.get(name) ?? named.get(foldStreet(name)) ?? word;
    };
    return merge(words.map((word) => (isRecorded(word) ? meant(word) : word)), codes);
  }

  // Whether the permit was valid on the day of the audit; a permit is valid on the day that it expires.
  function permits({ bundle, cores }) {
    const [expires, numbers, asOf] = [bundle.days("permit_expires_on"), bundle.codes("permit_no"), dayOf(page.asOf)];
    const missing = bundle.has("permit_no") ? 2 : -1;
    const codes = new Int32Array(cores.all);
    for (let i = 0; i < codes.length; i += 1) {
      if (Number.isNaN(expires[i])) codes[i] = numbers[i] < 0 ? missing : 3;
      else codes[i] = expires[i] < asOf ? 1 : 0;
    }
    return { words: PERMITS, codes };
  }

  // The same as isOut of each core, in one pass over whole columns: as its status says, or as is known of a flagged one.
  function outs(attributes) {
    const { bundle, cores: { status, all } } = attributes;
    const [open, reinstated, unknown, none] = [0, 1, 2, -1];
    const codes = new Int8Array(all).fill(bundle.has("reinstated_at") ? open : unknown);
    const states = bundle.has("state") ? bundle.codes("state") : null;
    const codeOf = (bundle.how("state")?.words || []).map((word) => ({ "": none, back: reinstated, unknown }[word] ?? open));
    if (bundle.has("reinstated_at")) {
      const doubted = bundle.how("finding_rule").words.map((rule) => page.unknownStateRules.includes(rule));
      const [rules, owner] = [bundle.ints("finding_rule"), bundle.ints("finding_core")];
      if (doubted.includes(true)) for (let f = 0; f < owner.length; f += 1) if (doubted[rules[f]]) codes[owner[f]] = unknown;
      const isThere = bundle.areThere("reinstated_at");
      for (let i = 0; i < all; i += 1) if (isThere[i]) codes[i] = reinstated;
    }
    for (let i = 0; i < all; i += 1) {
      if (status[i]) codes[i] = status[i] - 1;
      else if (states && states[i] >= 0 && codeOf[states[i]] !== none) codes[i] = codeOf[states[i]];
    }
    return codes;
  }

  function kindsOfWorks(words, codes) {
    const kindOf = new Map(page.works.map(({ id, kind }) => [id, kind]));
    return merge(words.map((id) => kindOf.get(id) ?? ""), codes);
  }

  // The words of a question and the code of each core among them; of a list, of each entry, with the core it is of.
  function read(question, attributes) {
    const { bundle, cores } = attributes;
    if (question === "status") return { words: STATUSES.map((status) => status.name), codes: cores.status };
    if (question === "out") return { words: OUT, codes: outs(attributes) };
    if (question === "permit") return permits(attributes);
    // Each core may have its own: matched by their texts.
    if (question === "permit_no") return { words: [], codes: bundle.codes("permit_no") };
    const name = COLUMNS[question] ?? question;
    const [words, codes] = [bundle.how(name)?.words || [], bundle.codes(name)];
    if (question === "street") return streets({ words, codes });
    const merged = question === "works_kind" ? kindsOfWorks(words, codes) : merge(words, codes);
    return LISTS[question] ? { ...merged, ...attributes.listed(LISTS[question]) } : merged;
  }

  const isOffered = (question, attributes) => (NEEDS[question] || []).every((name) => attributes.has(name));

  return { CHOICES, RANGES, QUESTIONS, UNLISTED, LISTS, COLUMNS, OUT, PERMITS, ANY, read, isOffered };
})();
