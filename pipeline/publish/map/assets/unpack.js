"use strict";
// Reads the bundles of packed columns in the page: a header, then byte planes.
const KerfbookUnpack = (() => {
  const { bufferOf } = KerfbookLetters;
  const read = async (id) => new Bundle(await bufferOf(id));

  // The columns of another element as well.
  async function readMore(bundle, id) { bundle.add(await bufferOf(id)); }

  // In place of the planes that a column does not have.
  let zeros = new Uint8Array(0);

  // Whole numbers of up to 32 bits, and their steps too; in one pass, since the first drawing waits for it.
  function narrow({ bytes, n, planes, at, least, steps, times = 1, shift = 0 }) {
    if (zeros.length < n) zeros = new Uint8Array(n);
    const [a, b, c, d] = [0, 1, 2, 3].map((p) => (p < planes ? bytes.subarray(at + p * n, at + (p + 1) * n) : zeros));
    const values = new Int32Array(n);
    if (!steps) {
      for (let i = 0; i < n; i += 1) values[i] = ((a[i] | (b[i] << 8) | (c[i] << 16) | (d[i] << 24)) + least) * times + shift;
      return values;
    }
    let last = 0;
    for (let i = 0; i < n; i += 1) {
      // A step's sign is its lowest bit.
      const step = ((a[i] | (b[i] << 8) | (c[i] << 16) | (d[i] << 24)) + least) >>> 0;
      last = (last + ((step >>> 1) ^ -(step & 1))) | 0;
      values[i] = last * times + shift;
    }
    return values;
  }

  function wide({ bytes, n, planes, at, least, steps }) {
    const values = new Float64Array(n);
    for (let p = 0; p < planes; p += 1) {
      const [from, weight] = [at + p * n, 2 ** (8 * p)];
      for (let i = 0; i < n; i += 1) values[i] += bytes[from + i] * weight;
    }
    let last = 0;
    for (let i = 0; i < n; i += 1) {
      const value = values[i] + least;
      last = steps ? last + (value % 2 ? -(value + 1) / 2 : value / 2) : value;
      values[i] = last;
    }
    return values;
  }

  class Bundle {
    constructor(buffer) {
      Object.assign(this, { columns: {}, read: new Map(), dated: new Map() });
      this.header = this.add(buffer);
    }

    // The columns of one element of the page.
    add(buffer) {
      const length = new DataView(buffer).getUint32(0, true);
      const header = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 4, length)));
      const bytes = new Uint8Array(buffer);
      let at = 4 + length;
      for (const how of Object.values(header.columns)) {
        Object.assign(how, { bytes, at });
        at += how.n * how.planes;
      }
      // Of columns that a later element holds, their descriptions without their words.
      Object.assign(this.columns, header.later, header.columns);
      return header;
    }

    how(name) { return this.columns[name]; }

    // Whether the file holds a column at all: some may have been withheld.
    has(name) { return name in this.columns; }

    // The whole numbers of a column, read when first asked for.
    ints(name) {
      if (!this.read.has(name)) {
        if (!this.how(name).bytes) throw new Error(`${name} is asked for before the page has read it`);
        this.read.set(name, this.unpack(this.how(name)));
      }
      return this.read.get(name);
    }

    // The same as bytes, where none is above 255; mostly they are in the bundle as they are.
    small(name) {
      const { n, planes, at, least, steps, bytes } = this.how(name);
      if (planes === 1 && !least && !steps) return bytes.subarray(at, at + n);
      if (!planes && !steps) return new Uint8Array(n).fill(least);
      return new Uint8Array(this.ints(name));
    }

    unpack(how) {
      const values = how.wide ? wide(how) : narrow(how);
      if (how.plus) {
        const other = this.ints(how.plus);
        for (let i = 0; i < values.length; i += 1) values[i] += other[i];
      }
      return values;
    }

    // The position of core i in a column: columns that go together are written once per distinct row.
    position(how, i) { return how.group ? this.ints(how.group)[i] : i; }

    // A text, or null where it is missing.
    text(name, i) {
      const how = this.how(name);
      return how ? this.textAt(how, name, this.position(how, i)) : null;
    }

    // The texts of a column as they are written: of one that goes with others, once per distinct row.
    textsOfRows(name) {
      const how = this.how(name);
      return Array.from({ length: how.n }, (_none, at) => this.textAt(how, name, at));
    }

    textAt(how, name, at) {
      const code = this.ints(name)[at];
      const word = code < 0 ? null : how.words[code];
      if (how.kind !== "id" || word === null) return word;
      const width = this.ints(how.widths)[at];
      return width ? word + String(this.ints(how.numbers)[at]).padStart(width, "0") : word;
    }

    // The text of each core after folding, "" where it is missing.
    foldedTexts(name, fold) {
      const { group, words, kind, numbers, widths } = this.how(name);
      const [groups, codes] = [group ? this.ints(group) : null, this.ints(name)];
      const [number, width] = kind === "id" ? [this.ints(numbers), this.ints(widths)] : [null, null];
      const folded = words.map(fold);
      return Array.from({ length: (groups || codes).length }, (_, i) => {
        const at = groups ? groups[i] : i;
        if (codes[at] < 0) return "";
        const word = folded[codes[at]];
        if (!number || !width[at]) return word;
        const digits = String(number[at]);
        return word + (digits.length < width[at] ? digits.padStart(width[at], "0") : digits);
      });
    }

    // The positions in a column of ids of a text: no other text is put together.
    indicesOf(name, text, alike = (word) => word) {
      const { words, kind, numbers, widths } = this.how(name);
      const codes = this.ints(name);
      const [number, width] = kind === "id" ? [this.ints(numbers), this.ints(widths)] : [null, new Uint8Array(codes.length)];
      const sought = alike(text);
      const rests = words.map(alike).map((word) => (sought.startsWith(word) ? sought.slice(word.length) : null));
      const wanted = rests.map((rest) => (rest !== null && /^[0-9]+$/.test(rest) ? Number(rest) : -1));
      const found = [];
      for (let i = 0; i < codes.length; i += 1) {
        const code = codes[i];
        if (code < 0 || rests[code] === null) continue;
        if (width[i] ? number[i] === wanted[code] && String(number[i]).padStart(width[i], "0") === rests[code] : rests[code] === "") found.push(i);
      }
      return found;
    }

    // A number, or null where it is missing.
    number(name, i) {
      const how = this.how(name);
      if (!how) return null;
      const found = this.ints(name)[this.position(how, i)];
      const counted = how.among ? how.among[found] : found;
      return counted ? (counted - 1 + how.first) / 10 ** how.digits : null;
    }

    // Where there are numbers, 1 each, without reading what they count from; not for a column in the register's order.
    areThere(name) {
      const { among } = this.how(name);
      const codes = this.ints(name);
      const found = new Uint8Array(codes.length);
      for (let i = 0; i < found.length; i += 1) found[i] = (among ? among[codes[i]] : codes[i]) > 0 ? 1 : 0;
      return found;
    }

    // The least of a column's whole numbers, Infinity where there is none: it is in the header.
    least(name) {
      const how = this.how(name);
      if (!how) return Infinity;
      const isEmpty = how.among ? how.among.every((counted) => !counted) : !how.planes && !how.least;
      return isEmpty ? Infinity : how.first;
    }

    // The different texts of a column, null among them where some are missing, last.
    wordsOf(name) {
      const words = [...new Set(this.how(name).words)];
      return this.ints(name).includes(-1) ? [...words, null] : words;
    }

    // The code of each core's text, -1 where it is missing.
    codes(name) {
      const how = this.how(name);
      if (!how) return new Int32Array(this.how("row").n).fill(-1);
      const own = this.ints(name);
      if (!how.group) return own;
      const group = this.ints(how.group);
      const found = new Int32Array(group.length);
      for (let i = 0; i < found.length; i += 1) found[i] = own[group[i]];
      return found;
    }

    // The whole number of each core, NaN where it is missing.
    numbers(name) {
      const how = this.how(name);
      if (!how) return new Float64Array(this.how("row").n).fill(NaN);
      const { among, first, by_row: byRow, since } = how;
      const own = this.ints(name);
      let found = new Float64Array(own.length);
      for (let i = 0; i < found.length; i += 1) {
        const counted = among ? among[own[i]] : own[i];
        found[i] = counted ? counted - 1 + first : NaN;
      }
      if (byRow) found = this.fromRowOrder(found);
      if (since) {
        const start = this.days(since);
        for (let i = 0; i < found.length; i += 1) found[i] += start[i] || 0;
      }
      return found;
    }

    // The same for a column that another one counts from, kept.
    days(name) {
      if (!this.dated.has(name)) this.dated.set(name, this.numbers(name));
      return this.dated.get(name);
    }

    // A column in the register's order, brought into the page's.
    fromRowOrder(values) {
      const row = this.ints("row");
      let top = 0;
      for (let i = 0; i < row.length; i += 1) top = Math.max(top, row[i]);
      const index = new Int32Array(top + 1).fill(-1);
      for (let i = 0; i < row.length; i += 1) index[row[i]] = i;
      const found = new Float64Array(values.length);
      let next = 0;
      for (let r = 0; r < index.length; r += 1) {
        if (index[r] < 0) continue;
        found[index[r]] = values[next];
        next += 1;
      }
      return found;
    }
  }

  return { read, readMore };
})();
