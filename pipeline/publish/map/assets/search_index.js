"use strict";
// What the search field looks through: ids, streets, districts, authorities, works, permits, findings; folded when first asked.
const KerfbookSearchIndex = (() => {
  const { page, ruleLabel } = KerfbookWords;
  const { fold, foldStreet } = KerfbookFolding;
  const { worksName } = KerfbookFilterWords;
  // Questions of the filter, in the order in which their groups are shown.
  const GROUPS = ["street", "district", "authority", "works", "rule"];
  const MOST = { core: 8, street: 6 };
  const MOST_OTHERS = 4;

  const byRank = (a, b) => a[0] - b[0] || a[1] - b[1] || (a[2] < b[2] ? -1 : 1);

  // Exact matches first, then texts that begin with the query, then those that contain it; the shorter first, then A to Z.
  function best(candidates, query, most) {
    let [hits, count, worst] = [[], 0, null];
    if (!query) return { count, rank: 3, top: [] };
    candidates((key, value) => {
      const at = key.indexOf(query);
      if (at < 0) return;
      count += 1;
      const rank = key.length === query.length ? 0 : at ? 2 : 1;
      // A short query can match all of a million: only the best are kept.
      if (worst && (rank - worst[0] || key.length - worst[1] || (key < worst[2] ? -1 : 1)) > 0) return;
      hits.push([rank, key.length, key, value]);
      if (hits.length < 20 * most) return;
      hits = hits.sort(byRank).slice(0, most);
      worst = hits[most - 1];
    });
    const top = hits.sort(byRank).slice(0, most);
    return { count, rank: top.length ? top[0][0] : 3, top: top.map((hit) => hit[3]) };
  }

  // How many cores each word of a question has, whatever the filter asks.
  function totals({ words, codes, first }) {
    const counts = new Uint32Array(words.length);
    const seen = first && new Int32Array(words.length).fill(-1);
    const cores = first ? first.length - 1 : codes.length;
    for (let i = 0; i < cores; i += 1) {
      for (let f = first ? first[i] : i; f < (first ? first[i + 1] : i + 1); f += 1) {
        if (codes[f] < 0 || seen?.[codes[f]] === i) continue;
        if (seen) seen[codes[f]] = i;
        counts[codes[f]] += 1;
      }
    }
    return new Map(words.map((word, w) => [word, counts[w]]));
  }

  // The texts of a group, each under the texts that it is found by.
  function entriesOf(group, filter, roads) {
    const isAsked = filter.asked.includes(group);
    const counts = isAsked ? totals(filter.list(group)) : new Map();
    if (group === "street") for (const name of roads.bundle.how("street").words) if (name && !counts.has(name)) counts.set(name, 0);
    if (group === "works") for (const { id } of page.works) if (isAsked && !counts.has(id)) counts.set(id, 0);
    const isRoad = group === "street" || group === "works";
    const nameOf = { rule: ruleLabel, works: worksName }[group] ?? ((word) => word);
    return [...counts].filter(([word]) => word).map(([word, n]) => {
      const name = nameOf(word);
      return { group, word, name, n, key: fold(name), street: isRoad ? foldStreet(name) : "" };
    });
  }

  class Index {
    constructor(attributes, roads, filter) { Object.assign(this, { attributes, roads, filter, ids: null, entries: null }); }

    // Read at the first search: a million ids take time.
    read() {
      this.permits = this.filter.asked.includes("permit_no") ? this.attributes.bundle.foldedTexts("permit_no", fold) : [];
      this.ids = this.attributes.bundle.foldedTexts("core_id", fold);
      this.entries = GROUPS.map((group) => [group, entriesOf(group, this.filter, this.roads)]);
    }

    // Looked for core by core: several cores may have one permit, which is listed once.
    findPermits(query) {
      const { bundle } = this.attributes;
      const seen = new Set();
      const found = best((use) => this.permits.forEach((key, i) => {
        if (!key.includes(query)) return;
        // Permits that differ only in capitals or hyphens are several: the filter asks for one as it is written.
        const text = bundle.text("permit_no", i);
        if (seen.has(text)) return;
        seen.add(text);
        use(key, i);
      }), query, MOST_OTHERS);
      const entry = (word) => ({ group: "permit_no", word, name: word, n: bundle.indicesOf("permit_no", word).length });
      return { ...found, group: "permit_no", top: found.top.map((i) => entry(bundle.text("permit_no", i))) };
    }

    // The groups with a match, the one with the best match first: [{ group, count, top }]; a core is its index.
    find(text) {
      if (!this.ids) this.read();
      const [query, street] = [fold(text), foldStreet(text)];
      const found = [{ group: "core", ...best((use) => this.ids.forEach(use), query, MOST.core) }];
      for (const [group, entries] of this.entries) {
        found.push({ group, ...best((use) => entries.forEach((one) => {
          // In short where that is how the query matches, otherwise as it is written.
          const isShort = street && one.street && !one.key.includes(query) && one.street.includes(street);
          if (isShort) use(one.street.replace(street, query), one);
          else use(one.key, one);
        }), query, MOST[group] ?? MOST_OTHERS) });
      }
      found.push(this.findPermits(query));
      return found.filter(({ count }) => count).sort((a, b) => a.rank - b.rank);
    }
  }

  return { Index };
})();
