"use strict";
// Which cores the reader asks for. Each question has one bit of a core's mask, set where the core matches: a core
// is shown when all bits are set, and the count beside a choice is of the cores that match all other questions.
const KerfbookFilter = (() => {
  const { CHOICES, RANGES, QUESTIONS, ANY } = KerfbookQuestions;
  const ALL = 2 ** QUESTIONS.length - 1;
  const SEVERITIES = ["fail", "check", "note"];

  class Filter {
    constructor(cores, attributes) {
      this.cores = cores;
      this.attributes = attributes;
      this.matches = new Uint32Array(cores.all).fill(ALL);
      this.shown = new Uint8Array(cores.all).fill(1);
      this.total = cores.all;
      // What several listeners ask for after each change, counted once.
      this.counted = {};
      this.wanted = Object.fromEntries(QUESTIONS.map((question) => [question, null]));
      this.lists = new Map();
      this.listeners = [];
      this.asked = QUESTIONS.filter((question) => KerfbookQuestions.isOffered(question, attributes));
    }

    // The words of a question, and the code of each core (or finding) among them; read when first asked for.
    list(question) {
      if (!this.lists.has(question)) this.lists.set(question, KerfbookQuestions.read(question, this.attributes));
      return this.lists.get(question);
    }

    // What is wanted of a question: null for any core, a set of words (null in it for "not known", ANY for each), a range of days
    // [from, to] with null for no limit, or the day on which a core must have been open.
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
      this.wanted[question] = isEmpty ? null : this.inFull(question, wanted);
      const bit = 1 << QUESTIONS.indexOf(question);
      const { matches } = this;
      if (isEmpty) {
        for (let i = 0; i < matches.length; i += 1) matches[i] |= bit;
        return;
      }
      const answers = this.answers(question, this.wanted[question]);
      for (let i = 0; i < matches.length; i += 1) matches[i] = answers[i] ? matches[i] | bit : matches[i] & ~bit;
    }

    inFull(question, wanted) {
      return wanted instanceof Set && wanted.has(ANY) ? new Set([...this.list(question).words, ...wanted].filter((word) => word !== ANY)) : wanted;
    }

    isAny(question) {
      const wanted = this.wanted[question];
      return Boolean(wanted) && wanted.size > 1 && !wanted.has(null) && this.list(question).words.every((word) => wanted.has(word));
    }

    // The cores that several questions ask for, whatever the filter asks: one byte per core.
    matching(wanted) {
      let found = null;
      for (const [question, words] of Object.entries(wanted)) {
        if (words === null || !this.asked.includes(question)) continue;
        const answers = this.answers(question, this.inFull(question, words));
        if (found) for (let i = 0; i < found.length; i += 1) found[i] &= answers[i];
        else found = answers;
      }
      return found ?? new Uint8Array(this.cores.all).fill(1);
    }

    // One byte per core, 1 where it matches.
    answers(question, wanted) {
      const found = new Uint8Array(this.cores.all);
      if (question === "open") {
        const { opened, reinstated } = this.attributes;
        for (let i = 0; i < found.length; i += 1) found[i] = opened[i] <= wanted && !(reinstated[i] <= wanted) ? 1 : 0;
        return found;
      }
      if (RANGES.includes(question)) {
        const days = this.attributes[question];
        const [from, to] = [wanted[0] ?? -Infinity, wanted[1] ?? Infinity];
        for (let i = 0; i < found.length; i += 1) found[i] = days[i] >= from && days[i] <= to ? 1 : 0;
        return found;
      }
      if (question === "permit_no") {
        for (const word of wanted) if (word !== null) for (const i of this.attributes.bundle.indicesOf(question, word)) found[i] = 1;
        return found;
      }
      const { words, codes, first, owner } = this.list(question);
      const isWanted = Uint8Array.from(words, (word) => (wanted.has(word) ? 1 : 0));
      const missing = wanted.has(null) ? 1 : 0;
      if (!first) {
        for (let i = 0; i < found.length; i += 1) found[i] = codes[i] < 0 ? missing : isWanted[codes[i]];
        return found;
      }
      if (missing) for (let i = 0; i < found.length; i += 1) found[i] = first[i] === first[i + 1] ? 1 : 0;
      for (let f = 0; f < owner.length; f += 1) if (codes[f] >= 0 && isWanted[codes[f]]) found[owner[f]] = 1;
      return found;
    }

    settle() {
      const { matches, shown } = this;
      let total = 0;
      for (let i = 0; i < matches.length; i += 1) {
        const isShown = matches[i] === ALL ? 1 : 0;
        shown[i] = isShown;
        total += isShown;
      }
      this.total = total;
      this.counted = {};
      this.listeners.forEach((listener) => listener());
    }

    onChange(listener) { this.listeners.push(listener); }

    isAsking() { return QUESTIONS.some((question) => this.wanted[question] !== null); }

    // How many cores each choice would show: [[word or null, count], ...], cores without a word last.
    counts(question) {
      const { words, codes, first } = this.list(question);
      const { matches } = this;
      const counts = new Uint32Array(words.length + 1);
      const bit = 1 << QUESTIONS.indexOf(question);
      const seen = new Int32Array(words.length).fill(-1);
      let missing = 0;
      for (let i = 0; i < matches.length; i += 1) {
        const isMissing = first ? first[i] === first[i + 1] : codes[i] < 0;
        if (isMissing) missing += 1;
        if ((matches[i] | bit) !== ALL) continue;
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

    // The shown cores by status: all of them, and those not on the map.
    byStatus() {
      this.counted.status ??= this.countStatuses();
      return this.counted.status;
    }

    countStatuses() {
      const { status, count, all } = this.cores;
      const { shown } = this;
      const counts = new Uint32Array(6);
      for (let i = 0; i < count; i += 1) counts[status[i]] += shown[i];
      for (let i = count; i < all; i += 1) counts[3 + status[i]] += shown[i];
      const unplaced = [...counts.subarray(3)];
      return { all: unplaced.map((off, s) => counts[s] + off), unplaced };
    }

    // The shown cores by status, by district name; null for no district.
    byDistrict() {
      this.counted.district ??= this.countDistricts();
      return this.counted.district;
    }

    countDistricts() {
      const { words, codes } = this.list("district");
      const { status } = this.cores;
      const { shown } = this;
      const counts = new Uint32Array(3 * (words.length + 1));
      for (let i = 0; i < codes.length; i += 1) {
        if (shown[i]) counts[3 * (codes[i] < 0 ? words.length : codes[i]) + status[i]] += 1;
      }
      return new Map([...words, null].map((word, w) => [word, [...counts.subarray(3 * w, 3 * w + 3)]]));
    }

    // The indices of the shown cores, in the page's order.
    indices() {
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

  return { Filter, CHOICES, RANGES, QUESTIONS, SEVERITIES, ANY };
})();
