"use strict";
// Reads the bytes of an element of the page: letters of seven bits, which hold a gzip.
const KerfbookLetters = (() => {
  // Letters of seven bits; those that a page would not keep are 128 higher.
  function fromLetters(text) {
    let i = text.indexOf(" ") + 1;
    const bytes = new Uint8Array(Number(text.slice(0, i)));
    const sevens = bytes.length - (bytes.length % 7);
    for (let at = 0; at < sevens; at += 7) {
      const high = ((text.charCodeAt(i) & 127) << 21) | ((text.charCodeAt(i + 1) & 127) << 14)
        | ((text.charCodeAt(i + 2) & 127) << 7) | (text.charCodeAt(i + 3) & 127);
      const low = ((text.charCodeAt(i + 4) & 127) << 21) | ((text.charCodeAt(i + 5) & 127) << 14)
        | ((text.charCodeAt(i + 6) & 127) << 7) | (text.charCodeAt(i + 7) & 127);
      i += 8;
      bytes[at] = high >>> 20;
      bytes[at + 1] = high >>> 12;
      bytes[at + 2] = high >>> 4;
      bytes[at + 3] = (high << 4) | (low >>> 24);
      bytes[at + 4] = low >>> 16;
      bytes[at + 5] = low >>> 8;
      bytes[at + 6] = low;
    }
    let [held, bits] = [0, 0];
    for (let at = sevens; at < bytes.length; i += 1) {
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

  // Written in one piece: a stream from a blob would come in small pieces from another process.
  async function inflate(packed) {
    const stream = new DecompressionStream("gzip");
    const writer = stream.writable.getWriter();
    // Any error in the bytes reaches the reader below.
    writer.write(packed).catch(() => {});
    writer.close().catch(() => {});
    // A gzip ends with the length of its content.
    const bytes = new Uint8Array(new DataView(packed.buffer).getUint32(packed.length - 4, true));
    const reader = stream.readable.getReader();
    let at = 0;
    for (;;) {
      // oxlint-disable-next-line no-await-in-loop -- the chunks of a stream come one after another
      const { done, value } = await reader.read();
      if (done) return bytes;
      bytes.set(value, at);
      at += value.length;
    }
  }

  const POLL = 4;
  const later = () => new Promise((done) => { setTimeout(done, POLL); });

  async function bufferOf(id) {
    // The browser is still reading an element that is not there, or that nothing follows.
    while (document.readyState === "loading" && !document.getElementById(id)?.nextElementSibling) {
      // oxlint-disable-next-line no-await-in-loop -- asked again until it is there
      await later();
    }
    const script = document.getElementById(id);
    const packed = fromLetters(script.textContent);
    // The text is most of the page's memory, and is not needed twice.
    script.textContent = "";
    return (await inflate(packed)).buffer;
  }

  return { bufferOf };
})();
