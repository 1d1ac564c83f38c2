// SPDX-License-Identifier: GPL-3.0-or-later
// How fast the page is, on a film of one's own or a phantom: page.mjs [FILE.dcm]
//   first frame: from the choice of the kept cine to its first picture on the screen
//   scrubbing: the wheel turned once a screen refresh through the cine; pictures shown a second, with frames fetched as they come
//   third click: to the numbers in the drawing
// Bars (of this project): 1000 ms, 30 frames/s, 500 ms.
import { browser, click, enter, finish, open, openCine, phantom, serve, work } from "../tests/browser/common.mjs";

const median = (list) => list.slice().sort((a, b) => a - b)[Math.floor(list.length / 2)];
const chrome = await browser();
const server = await serve(`${work}/data`);
const made = phantom("many", "--seed", "3", "--frames", "60", "--size", "512");
const files = process.argv[2] ? [process.argv[2]] : [made.file];

for (const file of files) {
  const page = await open(chrome, server.address);
  await openCine(page, file);
  const size = await page.evaluate(async () => { const { state } = await import("/js/state.js"); const i = state.cine.info; return { id: state.cine.id, frames: i.frames, text: `${i.frames} frames of ${i.columns} x ${i.rows}, ${i.bits_stored} bits, ${i.transfer_syntax}` }; });
  console.log(size.text);
  const first = [];
  for (let i = 0; i < 5; i++) {
    await enter(page, server.address);
    await page.click("#fresh");
    await page.click("#open");
    await page.waitForSelector(`[data-cine="${size.id}"]`);
    first.push(await page.evaluate(async (id) => {
      const film = await import("/js/film.js"), from = performance.now(), before = film.painted();
      document.querySelector(`[data-cine="${id}"]`).click();
      while (film.painted() === before) await new Promise(requestAnimationFrame);
      return performance.now() - from;
    }, size.id));
  }
  console.log(`first frame ${median(first).toFixed(0)} ms (median of ${first.length}; ${first.map((t) => t.toFixed(0)).join(", ")})`);
  const rates = await page.evaluate(async (frames) => {
    const film = await import("/js/film.js"), box = document.getElementById("film"), rates_ = [];
    for (const direction of [100, -100, 100]) {
      const from = performance.now(), before = film.painted();
      for (let i = 1; i < frames; i++) {
        box.dispatchEvent(new WheelEvent("wheel", { deltaY: direction, cancelable: true, bubbles: true }));
        await new Promise(requestAnimationFrame);
      }
      rates_.push(((film.painted() - before) * 1000) / (performance.now() - from));
    }
    return rates_;
  }, size.frames);
  if (size.frames > 5) console.log(`scrubbing ${rates.map((r) => r.toFixed(0)).join(", ")} pictures/s (there, back, there again)`);
  await page.context().close();
}

const film = phantom("measured", "--seed", "67", "--demo"), times = [];
for (let i = 0; i < 7; i++) {
  const page = await open(chrome, server.address);
  await openCine(page, film.file);
  await click(page, film.clicks.proximal);
  await click(page, film.clicks.distal);
  await page.evaluate(() => {
    document.getElementById("film").addEventListener("pointerup", () => { globalThis.from = performance.now(); }, { capture: true, once: true });
    new MutationObserver(() => { globalThis.until = globalThis.until || performance.now(); }).observe(document.getElementById("drawing"), { childList: true });
  });
  await click(page, film.clicks.side);
  await page.waitForSelector("#drawing svg");
  times.push(await page.evaluate(() => globalThis.until - globalThis.from));
  await page.context().close();
}
console.log(`third click to numbers ${median(times).toFixed(0)} ms (median of ${times.length}; ${times.map((t) => t.toFixed(0)).join(", ")})`);
await chrome.close();
finish();
