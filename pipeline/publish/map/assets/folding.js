"use strict";
// Texts as they are compared in a search: no accents, capitals, spaces or hyphens, and words of streets in short.
const KerfbookFolding = (() => {
  const { page } = KerfbookWords;
  const short = new Map(Object.entries(page.shortWords));
  // Letters that Unicode does not take apart into a letter and an accent.
  const WHOLE = { ß: "ss", ø: "o", ł: "l", đ: "d", ð: "d", æ: "ae", œ: "oe", þ: "th", ı: "i", ς: "σ" };

  function plain(text) {
    return text.normalize("NFKD").replace(/[\u0300-\u036f’'`.]/g, "").toLowerCase().replace(/[ßøłđðæœþıς]/g, (letter) => WHOLE[letter]);
  }

  // Letters and digits alone; almost every id is of these, and needs no taking apart.
  function fold(text) {
    // oxlint-disable-next-line no-control-regex -- the letters of ASCII
    if (/^[\x00-\x7f]*$/.test(text)) return text.toLowerCase().replace(/[^a-z0-9]+/g, "");
    return plain(text).replace(/[^\p{L}\p{M}\p{N}]+/gu, "");
  }

  // A street name with its long words short, as the audit compares names; "" where no word counts.
  const foldStreet = (text) => plain(text).split(/[^\p{L}\p{M}\p{N}_]+/u).map((word) => short.get(word) ?? word).join("");

  return { fold, foldStreet };
})();
