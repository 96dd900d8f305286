"use strict";
// Reads the bundles of packed columns that stand in the page: base64, gzip, a header, byte planes.
const KerfbookUnpack = (() => {
  function fromBase64(text) {
    if (Uint8Array.fromBase64) return Uint8Array.fromBase64(text);
    const letters = atob(text);
    const bytes = new Uint8Array(letters.length);
    for (let i = 0; i < letters.length; i += 1) bytes[i] = letters.charCodeAt(i);
    return bytes;
  }

  async function read(id) {
    const script = document.getElementById(id);
    const packed = new Blob([fromBase64(script.textContent)]);
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

    // The whole numbers of a column, read when first asked for.
    ints(name) {
      if (!this.read.has(name)) this.read.set(name, this.unpack(this.how(name)));
      return this.read.get(name);
    }

    unpack({ n, planes, at, least, steps, wide, plus }) {
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
      const found = this.ints(name)[this.place(how, i)];
      const counted = how.among ? how.among[found] : found;
      return counted ? (counted - 1 + how.first) / 10 ** how.digits : null;
    }

    // For every row the code of its word, -1 where it is missing.
    codes(name) {
      const how = this.how(name);
      const own = this.ints(name);
      return how.group ? this.ints(how.group).map((g) => own[g]) : own;
    }

    // For every row its whole number, NaN where it is missing.
    numbers(name) {
      const how = this.how(name);
      return Float64Array.from(this.ints(name), (found) => {
        const counted = how.among ? how.among[found] : found;
        return counted ? counted - 1 + how.first : NaN;
      });
    }
  }

  return { read };
})();
