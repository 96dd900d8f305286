"use strict";
// What a core looks like on a canvas, and a ring that stands for many.
const KerfbookSymbols = (() => {
  const { say, short } = KerfbookWords;
  const { STATUSES, OUTLINE, HALO, HOLLOW } = KerfbookDom;
  const sprites = new Map();

  // A core's shape, drawn once for every size; ratio is the canvas's own pixels to one of the radius.
  function spriteOf(status, isHollow, radius, ratio) {
    const name = `${status} ${isHollow} ${radius} ${ratio}`;
    if (!sprites.has(name)) sprites.set(name, drawSprite(status, isHollow, radius, ratio));
    return sprites.get(name);
  }

  function drawSprite(status, isHollow, radius, ratio) {
    const canvas = document.createElement("canvas");
    canvas.width = canvas.height = 2 * Math.ceil((radius * 1.45 + 2) * ratio);
    const ctx = canvas.getContext("2d");
    ctx.translate(canvas.width / 2, canvas.height / 2);
    ctx.scale((radius / 8) * ratio, (radius / 8) * ratio);
    const shape = new Path2D(STATUSES[status].path);
    ctx.lineJoin = "round";
    ctx.strokeStyle = HALO;
    ctx.lineWidth = 4.6;
    ctx.stroke(shape);
    ctx.fillStyle = STATUSES[status].colour;
    ctx.fill(shape);
    ctx.strokeStyle = OUTLINE;
    ctx.lineWidth = 1.7;
    ctx.stroke(shape);
    if (isHollow) {
      ctx.scale(HOLLOW, HOLLOW);
      ctx.fillStyle = HALO;
      ctx.fill(shape);
      ctx.lineWidth = 2.2;
      ctx.stroke(shape);
    }
    return canvas;
  }

  function paintRing(ctx, x, y, radius, counts, sum) {
    const disc = (r, colour) => {
      ctx.beginPath();
      ctx.arc(x, y, r, 0, 2 * Math.PI);
      ctx.fillStyle = colour;
      ctx.fill();
    };
    disc(radius + 2.2, HALO);
    disc(radius + 0.8, OUTLINE);
    let angle = -Math.PI / 2;
    counts.forEach((count, s) => {
      if (!count) return;
      const end = angle + (count / sum) * 2 * Math.PI;
      ctx.beginPath();
      ctx.moveTo(x, y);
      ctx.arc(x, y, radius, angle, end);
      ctx.fillStyle = STATUSES[s].colour;
      ctx.fill();
      angle = end;
    });
    disc(radius * 0.62 + 0.8, OUTLINE);
    disc(radius * 0.62, HALO);
    ctx.fillStyle = OUTLINE;
    const said = sum < 1000 ? short(sum) : say("view.thousands", { n: sum < 9950 ? Math.round(sum / 100) / 10 : Math.round(sum / 1000) });
    // Inside the ring, whatever its length; in whole pixels, for a browser makes a font anew for every size.
    const size = Math.round(radius * (said.length < 3 ? 0.64 : said.length < 4 ? 0.54 : 0.46));
    ctx.font = `600 ${size}px system-ui, 'Segoe UI', Roboto, Arial, sans-serif`;
    ctx.textAlign = "center";
    ctx.textBaseline = "middle";
    ctx.fillText(said, x, y + 0.5);
  }

  return { spriteOf, paintRing };
})();
