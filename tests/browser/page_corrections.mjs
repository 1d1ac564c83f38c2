// SPDX-License-Identifier: GPL-3.0-or-later
// What a person says of a measurement, on the page: by pointer and by keys, in a case and back. The outside value is the command
// line: the same said there gives the same document. Output is TAP.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import path from "node:path";
import { axe, browser, click, held, heldWith, measure, onPage, open, openCine, phantom, program, run, serve, shot, text, waitText, work } from "./common.mjs";

const chrome = await browser();
const server = await serve(path.join(work, "data"));
const film = phantom("plain", "--seed", "67", "--demo");

/** @param {(m: any) => any} test */
const measuredWith = (page, test) => heldWith(page, ({ measurement: m, stale }) => m && !stale && test(m));

async function card(page, id) {
  await page.evaluate((id_) => { document.getElementById(id_).open = true; }, id);
}

async function drag(page, points) {
  const at = [];
  for (const p of points) at.push(await onPage(page, p));
  await page.mouse.move(at[0].x, at[0].y);
  await page.mouse.down();
  for (const q of at.slice(1)) await page.mouse.move(q.x, q.y, { steps: 6 });
  await page.mouse.up();
}

// places on the measured film
const axis = (m, limb, mm) => {
  const p = m.segments[limb].profile, k = p.position_mm.reduce((best, v, i) => (Math.abs(v - mm) < Math.abs(p.position_mm[best] - mm) ? i : best), 0);
  return { k, at: [p.x_px[k], p.y_px[k]], left: p.left_px[k], right: p.right_px[k] };
};
const outside = ({ at, left }, px) => {
  const d = Math.hypot(left[0] - at[0], left[1] - at[1]);
  return [left[0] + (px * (left[0] - at[0])) / d, left[1] + (px * (left[1] - at[1])) / d];
};

// The same by the command line.
function byCommand({ clicks, say, scale }) {
  const options = ["measure", film.file, "--frame", "1"];
  ["proximal", "distal", "side"].forEach((limb, i) => options.push(`--${limb}`, `${clicks[i].x},${clicks[i].y}`));
  options.push("--stage", say.stage, "--nitrate", say.nitrate);
  for (const limb of say.wire_in_limb) options.push("--wire-in", limb);
  if (say.medina_threshold_pct) options.push("--medina-threshold", String(say.medina_threshold_pct));
  if (scale.way === "marker") options.push("--marker", [...scale.catheter.flatMap((p) => [p.x, p.y]), scale.size].join(","));
  const c = say.corrections;
  for (const v of c.via || []) options.push("--via", `${v.limb}:${v.x_px},${v.y_px}`);
  for (const v of c.edge || []) options.push("--edge", `${v.limb}:${v.side}:${v.x_px.flatMap((x, i) => [x, v.y_px[i]]).join(",")}`);
  for (const v of c.exclude || []) options.push("--exclude", `${v.limb}:${v.from_mm},${v.to_mm}`);
  for (const v of c.reference || []) options.push("--reference", `${v.limb}:${v.reference_mm.value},${v.reference_mm.sd}`);
  for (const v of c.swap || []) options.push("--swap", `${v.limb},${v.with}`);
  return JSON.parse(execFileSync(program, options, { stdio: ["ignore", "pipe", "inherit"] }));
}

const tests = {
  async "all that is said goes into the case and comes back"() {
    const page = await open(chrome, server.address);
    await openCine(page, film.file);
    await measure(page, film.clicks);
    const { measurement: plain } = await held(page);
    await card(page, "say-card");
    await page.selectOption('#say label:has-text("Stage") select', "final");
    await page.selectOption('#say label:has-text("Nitrate") select', "yes");
    await page.check('#say label:has-text("side") input[type="checkbox"]');
    await page.fill('#say label:has-text("Medina") input', "65");
    await page.keyboard.press("Tab");
    await measuredWith(page, (m) => m.stage === 'final' && m.nitrate === 'yes' && m.wire_in_limb.includes('side') && m.medina_threshold_pct === 65);
    assert.notEqual((await held(page)).measurement.medina, plain.medina, "the proximal limb no longer counts");

    // two way-points by Alt and click, the farther one first: they are put in order
    const far = axis(plain, "side", 14), near = axis(plain, "side", 9);
    for (const place of [far, near]) {
      const q = await onPage(page, place.at);
      await page.keyboard.down("Alt");
      await page.mouse.click(q.x, q.y);
      await page.keyboard.up("Alt");
    }
    await measuredWith(page, (m) => (m.corrections.via || []).length === 2);
    const { say: { corrections: { via } } } = await held(page);
    assert.ok(via.every((v) => v.limb === "side") && Math.hypot(via[0].x_px - near.at[0], via[0].y_px - near.at[1]) < 1.5, JSON.stringify(via));

    // a stretch left out by dragging along the limb
    await page.click('[data-tool="exclude"]');
    assert.ok((await text(page, "#prompt")).startsWith("Leave out"));
    await drag(page, [axis(plain, "distal", 15).at, axis(plain, "distal", 18).at]);
    await measuredWith(page, (m) => (m.corrections.exclude || []).length === 1);
    const { say: { corrections: { exclude: [out] } } } = await held(page);
    assert.ok(out.limb === "distal" && Math.abs(out.from_mm - 15) < 0.5 && Math.abs(out.to_mm - 18) < 0.5, JSON.stringify(out));

    // an edge drawn 1.5 px outside of the fitted one
    await page.click('[data-tool="edge"]');
    await drag(page, [11, 12, 13, 14].map((mm) => outside(axis(plain, "distal", mm), 1.5)));
    await measuredWith(page, (m) => (m.corrections.edge || []).length === 1);
    const { say: { corrections: { edge: [drawn] } }, measurement: withEdge } = await held(page);
    assert.ok(drawn.limb === "distal" && drawn.side === "left" && drawn.x_px.length >= 4, JSON.stringify(drawn));
    assert.ok(withEdge.segments.distal.drawn_mm.length === 1);

    await page.fill('#say [aria-label="Reference in mm of the proximal main vessel"]', "3.9");
    await page.keyboard.press("Tab");
    await measuredWith(page, (m) => m.segments.proximal.reference_mm.value === 3.9);
    await page.fill('#say [aria-label="SD of the reference in mm of the proximal main vessel"]', "0.1");
    await page.keyboard.press("Tab");
    await measuredWith(page, (m) => m.segments.proximal.reference_mm.sd === 0.1);

    // a marker of 10 mm, drawn where the file's own scale says 10 mm are
    await card(page, "scale-card");
    await page.selectOption("#scale select", "marker");
    await page.fill('#scale label:has-text("Length") input', "10");
    await page.keyboard.press("Tab");
    for (const p of [[60, 60], [60 + 10 / plain.calibration.mm_per_px, 60]]) await click(page, p);
    await measuredWith(page, (m) => m.calibration.origin === 'marker');

    const before = await held(page);
    assert.deepEqual(before.measurement.corrections, before.say.corrections, "what is kept is what was said");
    assert.deepEqual(before.measurement, byCommand(before), "the command line says the same");
    assert.equal(await page.locator("#say .said li").count(), 5);
    assert.ok((await text(page, "#say-text")).includes("final, 5 corrections"));
    assert.equal(await page.locator("#overlay .way").count(), 2);
    assert.equal(await page.locator("#overlay .drawn-edge").count(), 1);
    assert.equal(await page.locator("#overlay .left-out").count(), 1);
    await page.evaluate(() => document.getElementById("say-card").scrollIntoView());
    await shot(page, "said");
    await axe(page);
    await page.click("#save");
    await waitText(page, "#standing", "revision 1");
    const { caseDoc } = await held(page);

    const other = await open(chrome, server.address);
    await other.click("#open");
    await other.click(`[data-case="${caseDoc.case_id}"]`);
    await other.waitForSelector("#drawing svg");
    const after = await held(other);
    assert.deepEqual(after.measurement, before.measurement);
    assert.deepEqual(after.say, before.say);
    assert.ok(after.scale.way === "marker" && after.scale.size === 10, JSON.stringify(after.scale));
    assert.equal(await other.isEnabled("#save"), false);
    // measured again in the reopened case, nothing that was said is lost; points are kept to 0.01 px
    await card(other, "say-card");
    await other.selectOption('#say label:has-text("Stage") select', "other");
    await measuredWith(other, (m) => m.stage === 'other');
    const again = await held(other);
    assert.deepEqual({ ...again.measurement.corrections }, before.measurement.corrections);
    assert.equal(again.measurement.calibration.origin, "marker");
    assert.ok(Math.abs(again.measurement.segments.distal.mld_mm.value - before.measurement.segments.distal.mld_mm.value) < 0.01);
    await other.reload();
    await other.waitForSelector("#drawing svg");
    assert.deepEqual((await held(other)).say, again.say, "unsaved, and reloaded");
    assert.deepEqual(page.complaints.concat(other.complaints), []);
    await page.context().close();
    await other.context().close();
  },

  async "corrections by keyboard alone, and undone"() {
    const page = await open(chrome, server.address);
    await openCine(page, film.file);
    await measure(page, film.clicks);
    const { measurement: plain } = await held(page);
    const target = async (point) => {
      for (let i = 0; i < 500; i++) {
        const [dx, dy] = await page.evaluate(async (p) => {
          const { onPage: place } = await import("/js/film.js"), want = place({ x: p[0], y: p[1] }), cross = document.querySelector("#overlay .cross");
          if (!cross) return [9, 9];
          const box = cross.getBoundingClientRect();
          return [want.x - box.x - box.width / 2, want.y - box.y - box.height / 2];
        }, point);
        if (Math.abs(dx) <= 2.1 && Math.abs(dy) <= 2.1) break;
        if (Math.abs(dx) > 2.1) await page.keyboard.press(dx > 0 ? "Shift+ArrowRight" : "Shift+ArrowLeft");
        if (Math.abs(dy) > 2.1) await page.keyboard.press(dy > 0 ? "Shift+ArrowDown" : "Shift+ArrowUp");
      }
      await page.keyboard.press("Enter");
    };
    await page.focus("#film");
    await page.keyboard.press("w");
    await target(axis(plain, "side", 12).at);
    await measuredWith(page, (m) => (m.corrections.via || []).length === 1);
    const [way] = (await held(page)).measurement.corrections.via;
    await page.focus("#overlay .way");
    await page.keyboard.press("ArrowRight");
    await measuredWith(page, (m) => m.corrections.via[0].x_px > way.x_px + 0.9);
    await page.focus("#film");
    await page.keyboard.press("x");
    for (const mm of [10, 14]) await target(axis(plain, "distal", mm).at);
    await measuredWith(page, (m) => (m.corrections.exclude || []).length === 1);
    await page.focus("#film");
    await page.keyboard.press("e");
    for (const mm of [6, 8, 10]) await target(outside(axis(plain, "proximal", mm), 1));
    await page.focus("#done");
    await page.keyboard.press("Enter");
    await measuredWith(page, (m) => (m.corrections.edge || []).length === 1);
    assert.equal((await held(page)).measurement.corrections.edge[0].limb, "proximal");
    await page.focus("#film");
    await page.keyboard.press("e");
    await page.keyboard.press("Escape");
    assert.ok((await text(page, "#prompt")).startsWith("Measured"), "a tool is put down");
    await page.keyboard.press("Control+z");
    await measuredWith(page, (m) => !m.corrections.edge && m.corrections.exclude && m.corrections.via);
    await card(page, "say-card");
    await page.focus('[aria-label^="Remove: left out"]');
    await page.keyboard.press("Enter");
    await measuredWith(page, (m) => !m.corrections.exclude && m.corrections.via);
    await page.click("#restart");
    assert.deepEqual((await held(page)).say.corrections, {});
    await page.context().close();
  },

  async "points that were changed over, and a correction that cannot be"() {
    const page = await open(chrome, server.address);
    await openCine(page, film.file);
    await measure(page, { ...film.clicks, distal: film.clicks.side, side: film.clicks.distal });
    const wrong = (await held(page)).measurement;
    await card(page, "say-card");
    await page.selectOption('#say label:has-text("The three points") select', "distal,side");
    await measuredWith(page, (m) => (m.corrections.swap || []).length === 1);
    const right = await held(page);
    assert.deepEqual(right.measurement.clicks_px, wrong.clicks_px, "the clicks are as they were");
    assert.ok(Math.abs(right.measurement.segments.distal.mld_mm.value - wrong.segments.side.mld_mm.value) < 0.05);
    assert.deepEqual(right.measurement, byCommand(right));
    const names = await page.locator("#overlay .handle-name").allTextContents();
    assert.deepEqual(names, ["proximal", "side", "distal"], "the film names the points by what they stand for");
    // an edge far from every limb is refused before it is asked for; one beside the chosen limb by the program, in words
    await page.click('[data-tool="edge"]');
    await drag(page, [[20, 20], [60, 20]]);
    await waitText(page, "#alarm", "No limb is near");
    await page.selectOption("#tool-limb", "distal");
    await page.click('[data-tool="edge"]');
    const place = axis(right.measurement, "distal", 12);
    await drag(page, [outside(place, 30), outside(place, 35)]);
    await page.waitForFunction(() => document.querySelector("#prompt .held"));
    assert.ok((await text(page, "#prompt .held")).length > 20);
    await page.click('[aria-label^="Remove: "][aria-label*="edge of"]');
    await measuredWith(page, (m) => !m.corrections.edge);
    await page.context().close();
  },
};

await run(chrome, tests);
