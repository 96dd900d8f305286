"use strict";
// The cores that the filter shows, a group per sheet: a street of one authority, or a district; numbered along the streets.
const KerfbookPaperGroups = (() => {
  const { locale, say } = KerfbookWords;
  const DM_PER_M = 10;
  let collator = null;

  // Made when first used: that takes time which the first drawing would wait for.
  function compare(a, b) {
    collator ??= new Intl.Collator(locale, { numeric: true });
    return collator.compare(a, b);
  }

  // How far along its street each core lies, in metres; NaN where that is not known.
  class Along {
    constructor(attributes, roads) {
      Object.assign(this, { attributes, roads, lines: new Map() });
      this.columns = ["along", "length", "backwards"].map((name) => (roads.bundle.has(name) ? roads.bundle.ints(name) : null));
      for (let line = roads.count - 1; line >= 0; line -= 1) this.lines.set(roads.textOf("id", line), line);
    }

    of(i) {
      const chainage = this.attributes.number("chainage_m", i);
      const line = this.lines.get(this.attributes.text("segment_id", i));
      if (chainage === null || line === undefined) return chainage ?? NaN;
      const [along, length, backwards] = this.columns.map((column) => column?.[line] ?? 0);
      return along / DM_PER_M + (backwards ? length / DM_PER_M - chainage : chainage);
    }
  }

  const unique = (texts) => [...new Set(texts)].filter((text) => text !== null).sort(compare);

  // The key of a core's sheet, as codes: cores of unnamed streets go by district.
  function keys(attributes, by) {
    const codes = (name) => (attributes.has(name) ? attributes.bundle.codes(name) : null);
    const district = codes("district");
    if (by === "districts") return (i) => `${district?.[i]}`;
    const [street, authority] = [codes("street"), codes("road_authority")];
    return (i) => (street && street[i] >= 0 ? `${street[i]} ${authority?.[i]}` : `none ${district?.[i]}`);
  }

  function gathered(attributes, indices, by) {
    const found = new Map();
    const keyOf = keys(attributes, by);
    for (const i of indices) {
      const key = keyOf(i);
      if (!found.has(key)) found.set(key, []);
      found.get(key).push(i);
    }
    return [...found.values()];
  }

  // How many sheets there will be.
  function count(filter, by) { return gathered(filter.attributes, filter.indices(), by).length; }

  // By street, then along it, then by id; those without a position last.
  function ordered(attributes, along, group) {
    const { count: placed } = attributes.cores;
    const keyed = group.map((i) => ({ i, off: i >= placed, street: attributes.text("street", i) || "", along: along.of(i), id: attributes.id(i) }));
    const byNumber = (a, b) => (Number.isNaN(a) ? 1 : 0) - (Number.isNaN(b) ? 1 : 0) || (a - b || 0);
    keyed.sort((a, b) => a.off - b.off || (a.street ? 0 : 1) - (b.street ? 0 : 1) || compare(a.street, b.street) || byNumber(a.along, b.along) || compare(a.id, b.id));
    return keyed.map(({ i }) => i);
  }

  function named(attributes, along, group, by) {
    const texts = (name) => unique(group.map((i) => attributes.text(name, i)));
    const [street, district] = [attributes.text("street", group[0]), attributes.text("district", group[0])];
    const isStreet = by === "streets";
    return {
      cores: ordered(attributes, along, group),
      metresAlong: (i) => along.of(i),
      title: isStreet ? street || say("paper.unnamed") : district || say("districts.none"),
      isNamed: Boolean(isStreet ? street : district),
      street: isStreet ? street : null,
      hasHeadings: !isStreet,
      authorities: texts("road_authority"),
      districts: isStreet ? texts("district") : [],
    };
  }

  // The groups in the order of their names, unnamed ones last.
  function all(filter, roads, by) {
    const { attributes } = filter;
    const along = new Along(attributes, roads);
    return gathered(attributes, filter.indices(), by)
      .map((group) => named(attributes, along, group, by))
      .sort((a, b) => (b.isNamed - a.isNamed) || compare(a.title, b.title) || compare(a.authorities.join(), b.authorities.join()) || compare(a.districts.join(), b.districts.join()));
  }

  return { all, count };
})();
