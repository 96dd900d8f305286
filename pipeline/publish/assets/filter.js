"use strict";
// Which cores the reader asks for. Every question has one bit of a core's byte pair, set where the core answers it:
// a core is shown when all are set, and a choice's count takes in what all other questions let through.
const KerfbookFilter = (() => {
  const CHOICES = ["status", "severity", "rule", "district", "surface", "shade"];
  const RANGES = ["opened", "reinstated"];
  const QUESTIONS = [...CHOICES, ...RANGES, "open"];
  // The columns without which a question cannot be asked.
  const NEEDS = { surface: ["surface"], shade: ["shade"], opened: ["opened_on"], reinstated: ["reinstated_at"], open: ["opened_on", "reinstated_at"] };
  const ALL = 2 ** QUESTIONS.length - 1;
  const SEVERITIES = ["fail", "check", "note"];

  class Filter {
    constructor(cores, attributes) {
      this.cores = cores;
      this.attributes = attributes;
      const { bundle } = attributes;
      this.pass = new Uint16Array(cores.all).fill(ALL);
      this.shown = new Uint8Array(cores.all).fill(1);
      this.total = cores.all;
      this.wanted = Object.fromEntries(QUESTIONS.map((question) => [question, null]));
      this.lists = {
        status: { words: KerfbookDom.STATUSES.map((status) => status.name), codes: cores.status },
        severity: this.ofFindings("finding_severity"),
        rule: this.ofFindings("finding_rule"),
      };
      for (const name of ["district", "surface", "shade"]) this.lists[name] = Filter.merge(bundle.how(name)?.words || [], bundle.codes(name));
      this.listeners = [];
      this.asked = QUESTIONS.filter((question) => (NEEDS[question] || []).every((name) => bundle.has(name)));
    }

    // Texts cut to the same beginning are one choice.
    static merge(words, codes) {
      const unique = [...new Set(words)];
      if (unique.length === words.length) return { words, codes };
      const place = new Map(unique.map((word, w) => [word, w]));
      return { words: unique, codes: Int32Array.from(codes, (code) => (code < 0 ? -1 : place.get(words[code]))) };
    }

    ofFindings(name) {
      const { bundle } = this.attributes;
      return { ...Filter.merge(bundle.how(name).words, bundle.codes(name)), first: this.attributes.firstFinding };
    }

    // What a question is asked: null for anything, a set of words (null among them for "not known"), a range of
    // days [from, to] with null for no end, or the day on which a core must have been open.
    ask(question, wanted) {
      this.put(question, wanted);
      this.settle();
    }

    askAll(wanted) {
      QUESTIONS.forEach((question) => this.put(question, wanted[question] ?? null));
      this.settle();
    }

    put(question, wanted) {
      const isEmpty = wanted === null || !this.asked.includes(question) || (Array.isArray(wanted) && wanted.every((end) => end === null));
      this.wanted[question] = isEmpty ? null : wanted;
      const bit = 1 << QUESTIONS.indexOf(question);
      const { pass } = this;
      if (isEmpty) {
        for (let i = 0; i < pass.length; i += 1) pass[i] |= bit;
        return;
      }
      const answers = this.answers(question, wanted);
      for (let i = 0; i < pass.length; i += 1) pass[i] = answers(i) ? pass[i] | bit : pass[i] & ~bit;
    }

    answers(question, wanted) {
      const { opened, reinstated } = this.attributes;
      if (question === "open") return (i) => opened[i] <= wanted && !(reinstated[i] <= wanted);
      if (RANGES.includes(question)) {
        const days = question === "opened" ? opened : reinstated;
        const [from, to] = [wanted[0] ?? -Infinity, wanted[1] ?? Infinity];
        return (i) => days[i] >= from && days[i] <= to;
      }
      const { words, codes, first } = this.lists[question];
      const isWanted = Uint8Array.from(words, (word) => (wanted.has(word) ? 1 : 0));
      const missing = wanted.has(null);
      if (!first) return (i) => (codes[i] < 0 ? missing : isWanted[codes[i]] === 1);
      return (i) => {
        if (first[i] === first[i + 1]) return missing;
        for (let f = first[i]; f < first[i + 1]; f += 1) if (codes[f] >= 0 && isWanted[codes[f]]) return true;
        return false;
      };
    }

    settle() {
      const { pass, shown } = this;
      let total = 0;
      for (let i = 0; i < pass.length; i += 1) {
        shown[i] = pass[i] === ALL ? 1 : 0;
        total += shown[i];
      }
      this.total = total;
      this.listeners.forEach((told) => told());
    }

    onChange(told) { this.listeners.push(told); }

    isAsking() { return QUESTIONS.some((question) => this.wanted[question] !== null); }

    // How many cores each choice would show: [[word or null, count], ...], the missing last where there are any.
    counts(question) {
      const { words, codes, first } = this.lists[question];
      const counts = new Uint32Array(words.length + 1);
      const bit = 1 << QUESTIONS.indexOf(question);
      const seen = new Int32Array(words.length).fill(-1);
      let missing = 0;
      for (let i = 0; i < this.pass.length; i += 1) {
        const isMissing = first ? first[i] === first[i + 1] : codes[i] < 0;
        if (isMissing) missing += 1;
        if ((this.pass[i] | bit) !== ALL) continue;
        if (isMissing) counts[words.length] += 1;
        else if (!first) counts[codes[i]] += 1;
        else {
          for (let f = first[i]; f < first[i + 1]; f += 1) {
            if (codes[f] >= 0 && seen[codes[f]] !== i) {
              seen[codes[f]] = i;
              counts[codes[f]] += 1;
            }
          }
        }
      }
      const found = words.map((word, w) => [word, counts[w]]);
      return missing ? [...found, [null, counts[words.length]]] : found;
    }

    // The shown cores by status: in all, and those without a place.
    byStatus() {
      const counts = [[0, 0, 0], [0, 0, 0]];
      const { status, count, all } = this.cores;
      for (let i = 0; i < all; i += 1) counts[i < count ? 0 : 1][status[i]] += this.shown[i];
      return { all: counts[0].map((placed, s) => placed + counts[1][s]), unplaced: counts[1] };
    }

    // The shown cores of every district by status, by the district's name; null for none.
    byDistrict() {
      const { words, codes } = this.lists.district;
      const counts = Array.from({ length: words.length + 1 }, () => [0, 0, 0]);
      for (let i = 0; i < codes.length; i += 1) {
        if (this.shown[i]) counts[codes[i] < 0 ? words.length : codes[i]][this.cores.status[i]] += 1;
      }
      return new Map([...words, null].map((word, w) => [word, counts[w]]));
    }

    // The places of the shown cores, in the page's order.
    places() {
      const found = new Int32Array(this.total);
      let n = 0;
      for (let i = 0; i < this.shown.length; i += 1) {
        if (this.shown[i]) {
          found[n] = i;
          n += 1;
        }
      }
      return found;
    }
  }

  return { Filter, CHOICES, RANGES, QUESTIONS, SEVERITIES };
})();
