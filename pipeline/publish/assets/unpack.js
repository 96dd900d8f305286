"use strict";
// Reads the bundles of packed columns that stand in the page: letters of seven bits, gzip, a header, byte planes.
const KerfbookUnpack = (() => {
  // Letters of seven bits; those that a page would not keep stand 256 higher.
  function fromLetters(text) {
    const space = text.indexOf(" ");
    const bytes = new Uint8Array(Number(text.slice(0, space)));
    let [held, bits, at] = [0, 0, 0];
    for (let i = space + 1; at < bytes.length; i += 1) {
      held = ((held << 7) | (text.charCodeAt(i) & 127)) & 0x7fff;
      bits += 7;
      if (bits >= 8) {
        bits -= 8;
        bytes[at] = held >>> bits;
        at += 1;
      }
    }
    return bytes;
  }

  async function read(id) {
    const script = document.getElementById(id);
    const packed = new Blob([fromLetters(script.textContent)]);
    // The text is the bulk of the page's memory, and is not needed twice.
    script.textContent = "";
    const stream = packed.stream().pipeThrough(new DecompressionStream("gzip"));
    return new Bundle(await new Response(stream).arrayBuffer());
  }

  class Bundle {
    constructor(buffer) {
      const length = new DataView(buffer).getUint32(0, true);
      const header = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 4, length)));
      this.header = header;
      this.bytes = new Uint8Array(buffer);
      this.read = new Map();
      let at = 4 + length;
      for (const how of Object.values(header.columns)) {
        how.at = at;
        at += how.n * how.planes;
      }
    }

    how(name) { return this.header.columns[name]; }

    // Whether the file holds a column at all: who made it may have kept some back.
    has(name) { return name in this.header.columns; }

    // The whole numbers of a column, read when first asked for.
    ints(name) {
      if (!this.read.has(name)) this.read.set(name, this.unpack(this.how(name)));
      return this.read.get(name);
    }

    unpack({ n, planes, at, least, steps, wide, plus, times }) {
      const values = wide || planes > 3 ? new Float64Array(n) : new Int32Array(n);
      for (let p = 0; p < planes; p += 1) {
        const plane = this.bytes.subarray(at + p * n, at + (p + 1) * n);
        const weight = 2 ** (8 * p);
        for (let i = 0; i < n; i += 1) values[i] += plane[i] * weight;
      }
      let last = 0;
      for (let i = 0; i < n; i += 1) {
        const value = values[i] + least;
        // A step's sign is its lowest bit.
        last = steps ? last + (value % 2 ? -(value + 1) / 2 : value / 2) : value;
        values[i] = last;
      }
      if (times) for (let i = 0; i < n; i += 1) values[i] *= times;
      if (plus) {
        const other = this.ints(plus);
        for (let i = 0; i < n; i += 1) values[i] += other[i];
      }
      return values;
    }

    // Where row i of a column stands: columns that go together are written once for every different row.
    place(how, i) { return how.group ? this.ints(how.group)[i] : i; }

    // A text, or null where it is missing.
    text(name, i) {
      const how = this.how(name);
      if (!how) return null;
      const at = this.place(how, i);
      const code = this.ints(name)[at];
      const word = code < 0 ? null : how.words[code];
      if (how.kind !== "id" || word === null) return word;
      const width = this.ints(how.widths)[at];
      return width ? word + String(this.ints(how.numbers)[at]).padStart(width, "0") : word;
    }

    // A number, or null where it is missing.
    number(name, i) {
      const how = this.how(name);
      if (!how) return null;
      const found = this.ints(name)[this.place(how, i)];
      const counted = how.among ? how.among[found] : found;
      return counted ? (counted - 1 + how.first) / 10 ** how.digits : null;
    }

    // For every row the code of its word, -1 where it is missing.
    codes(name) {
      const how = this.how(name);
      if (!how) return new Int32Array(this.how("row").n).fill(-1);
      const own = this.ints(name);
      return how.group ? this.ints(how.group).map((g) => own[g]) : own;
    }

    // For every row its whole number, NaN where it is missing.
    numbers(name) {
      const how = this.how(name);
      if (!how) return new Float64Array(this.how("row").n).fill(NaN);
      let found = Float64Array.from(this.ints(name), (code) => {
        const counted = how.among ? how.among[code] : code;
        return counted ? counted - 1 + how.first : NaN;
      });
      if (how.by_row) found = this.fromRowOrder(found);
      if (how.since) {
        const start = this.numbers(how.since);
        for (let i = 0; i < found.length; i += 1) found[i] += start[i] || 0;
      }
      return found;
    }

    // Columns that stand in the register's order, brought into the page's.
    fromRowOrder(values) {
      const row = this.ints("row");
      let top = 0;
      for (let i = 0; i < row.length; i += 1) top = Math.max(top, row[i]);
      const place = new Int32Array(top + 1).fill(-1);
      for (let i = 0; i < row.length; i += 1) place[row[i]] = i;
      const found = new Float64Array(values.length);
      let next = 0;
      for (const i of place) {
        if (i >= 0) {
          found[i] = values[next];
          next += 1;
        }
      }
      return found;
    }
  }

  return { read };
})();
