// SPDX-License-Identifier: GPL-3.0-or-later
// How fast the page is, on films of one's own or a phantom: page.mjs [FILE.dcm...]
//   first frame: from the choice of the kept cine to its first picture on the screen
//   scrubbing: the wheel turned once a screen refresh through the cine; pictures shown a second, with frames fetched as they come
//   third click: to the numbers in the drawing
// Bars (of this project): 1000 ms, 30 frames/s, 500 ms. Below each stands where the time went: `wait` for a lane and `work` in it
// are told by the server, `way` is the rest of the request, `draw` is the page's own.
import { browser, click, enter, finish, open, openCine, phantom, serve, work } from "../tests/browser/common.mjs";

const median = (list) => list.slice().sort((a, b) => a - b)[Math.floor(list.length / 2)];
const chrome = await browser();
const server = await serve(`${work}/data`);
const files = process.argv.length > 2 ? process.argv.slice(2) : [phantom("many", "--seed", "3", "--frames", "60", "--size", "512").file];

// What the requests to addresses with this part cost, and forget them.
function requests(page, part) {
  return page.evaluate((part_) => {
    const list = performance.getEntriesByType("resource").filter((e) => e.name.includes(part_)).map((e) => {
      const told = Object.fromEntries(e.serverTiming.map((t) => [t.name, t.duration])), wait = told.wait || 0, work_ = told.work || 0;
      return { wait, work: work_, way: e.duration - wait - work_, kB: e.encodedBodySize / 1024, end: e.responseEnd };
    });
    performance.clearResourceTimings();
    performance.setResourceTimingBufferSize(1000);
    return list;
  }, part);
}

function parts(list) {
  return ["wait", "work", "way"].map((key) => `${key} ${median(list.map((e) => e[key])).toFixed(1)}`).join(", ") + ` ms, ${median(list.map((e) => e.kB)).toFixed(0)} kB`;
}

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
    await requests(page, "none");
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
  const draw = await page.evaluate(async () => {
    const film = await import("/js/film.js"), from = performance.now();
    for (let i = 0; i < 20; i++) film.paint();
    return (performance.now() - from) / 20;
  });
  console.log(`  a frame: ${parts(await requests(page, "/frames/"))}; draw ${draw.toFixed(1)} ms`);
  await page.context().close();
}

const film = phantom("measured", "--seed", "67", "--demo"), times = [], asked = [], draws = [];
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
  const until = await page.evaluate(() => globalThis.until);
  times.push(await page.evaluate(() => globalThis.until - globalThis.from));
  const [request] = await requests(page, "/api/measure");
  asked.push(request);
  draws.push(until - request.end);
  await page.context().close();
}
console.log(`third click to numbers ${median(times).toFixed(0)} ms (median of ${times.length}; ${times.map((t) => t.toFixed(0)).join(", ")})`);
console.log(`  measure: ${parts(asked)}; draw ${median(draws).toFixed(1)} ms`);
await chrome.close();
finish();
