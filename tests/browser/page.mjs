// SPDX-License-Identifier: GPL-3.0-or-later
// The page in a browser: open, click, measure, correct, save, reload, with the server killed in between, two writers, hostile
// texts, and by keyboard alone. Output is TAP.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { copyFileSync, existsSync, writeFileSync } from "node:fs";
import path from "node:path";
import { axe, browser, click, enter, held, heldWith, measure, onPage, open, openCine, openFile, phantom, ready, run, serve, shot, text, waitText, work } from "./common.mjs";

const HURT = "<img src=x onerror=\"window.hurt=1\"><script>window.hurt=1</script>'\"&amp;";
const SHORT = "<img src=x onerror=\"window.hurt=1\">"; // a name of a vessel has at most 47 bytes
const chrome = await browser();
const data = path.join(work, "data");
let server = await serve(data);
const film = phantom("plain", "--seed", "67", "--demo");
// No two texts of the drawing may cover one another, and none may stand outside of it.
async function noOverlap(page) {
  const faults = await page.evaluate(() => {
    const svg = document.querySelector("#drawing svg"), all = svg.getBoundingClientRect();
    const boxes = [...svg.querySelectorAll("text")].filter((t) => t.textContent).map((t) => ({ text: t.textContent, box: t.getBoundingClientRect() }));
    const found = [];
    boxes.forEach((a, i) => {
      if (a.box.left < all.left || a.box.right > all.right || a.box.top < all.top || a.box.bottom > all.bottom) found.push(`outside: ${a.text}`);
      for (const b of boxes.slice(i + 1)) {
        // line boxes are taller than letters: lines that follow one another may touch
        const wide = Math.min(a.box.right, b.box.right) - Math.max(a.box.left, b.box.left), high = Math.min(a.box.bottom, b.box.bottom) - Math.max(a.box.top, b.box.top);
        if (wide > 1 && high > 0.35 * Math.min(a.box.height, b.box.height)) found.push(`${a.text} / ${b.text}`);
      }
    });
    return found;
  });
  assert.deepEqual(faults, []);
}

const tests = {
  async "three clicks give the drawing with its numbers"() {
    for (const size of [{ width: 1280, height: 800 }, { width: 1920, height: 1080 }]) {
      const page = await open(chrome, server.address, size);
      assert.equal(await page.evaluate(() => location.hash), "", "the token is taken out of the address");
      await shot(page, `empty-${size.width}`);
      await axe(page);
      await openCine(page, film.file);
      for (const limb of ["proximal", "distal", "side"]) {
        assert.ok((await text(page, "#prompt")).includes({ proximal: "proximal main", distal: "distal main", side: "side branch" }[limb]), "the next click is named");
        await click(page, film.clicks[limb]);
      }
      await page.waitForSelector("#drawing svg");
      const { measurement: m } = await held(page), words = await text(page, "#drawing");
      for (const limb of ["proximal", "distal", "side"]) {
        const seg = m.segments[limb];
        for (const part of [`MLD ${seg.mld_mm.value.toFixed(2)} ± ${seg.mld_mm.sd.toFixed(2)} mm`, `${seg.stenosis_pct.value.toFixed(0)} ± ${seg.stenosis_pct.sd.toFixed(0)} %`,
          `reference ${seg.reference_mm.value.toFixed(2)} ± ${seg.reference_mm.sd.toFixed(2)} mm`, `≥ ${seg.length_mm.value.toFixed(1)} mm`]) assert.ok(words.includes(part), part);
      }
      assert.ok(words.includes(m.medina) && words.includes("isocentre"));
      assert.equal(await page.locator("#overlay path.outline").count(), 6);
      assert.ok((await text(page, "#notes")).includes("one view"));
      await waitText(page, "#card-devices", "main stent");
      assert.ok((await text(page, "#card-devices")).includes("held back"));
      assert.ok(await page.isVisible("#caution"));
      await noOverlap(page);
      await shot(page, `measured-${size.width}`);
      await axe(page);
      await page.click("#curves-card summary");
      await page.waitForSelector("#curves svg");
      assert.equal(await page.locator("#curves svg").count(), 3);
      await page.evaluate(() => document.querySelector("#curves-card").scrollIntoView());
      await shot(page, `curves-${size.width}`);
      await page.evaluate(() => document.querySelector("#cards").scrollIntoView());
      await shot(page, `cards-${size.width}`);
      await page.click("#case-card summary");
      await page.evaluate(() => document.querySelector("#case-card").scrollIntoView());
      await shot(page, `form-${size.width}`);
      await axe(page);
      assert.deepEqual(page.complaints, []);
      await page.context().close();
    }
  },

  async "dragging a point measures again, undo takes it back"() {
    const page = await open(chrome, server.address);
    await openCine(page, film.file);
    await measure(page, film.clicks);
    const before = (await held(page)).measurement, at = await onPage(page, film.clicks.distal), to = await onPage(page, [film.clicks.distal[0] + 11, film.clicks.distal[1] - 28]);
    await page.mouse.move(at.x, at.y);
    await page.mouse.down();
    await page.mouse.move((at.x + to.x) / 2, (at.y + to.y) / 2, { steps: 4 });
    await page.mouse.move(to.x, to.y, { steps: 4 });
    await page.mouse.up();
    await waitText(page, "#prompt", "Measured");
    const after = (await held(page)).measurement;
    assert.notDeepEqual(after.clicks_px.distal, before.clicks_px.distal);
    assert.deepEqual(after.clicks_px.side, before.clicks_px.side);
    assert.ok(after.segments.distal.length_mm.value < before.segments.distal.length_mm.value - 1);
    await page.click("#undo");
    assert.equal(await page.isVisible("#drawing"), false);
    assert.ok((await text(page, "#prompt")).includes("3 of 3"));
    await page.keyboard.press("Control+z");
    assert.ok((await text(page, "#prompt")).includes("2 of 3"));
    await page.context().close();
  },

  async "everything goes by keyboard"() {
    const page = await open(chrome, server.address);
    await openCine(page, film.file);
    await page.focus("#film");
    const target = async (point) => {
      await page.keyboard.press("Shift+ArrowRight");
      for (let i = 0; i < 400; i++) {
        const [want, cross] = [await onPage(page, point), await page.evaluate(() => {
          const path = document.querySelector("#overlay .cross").getBoundingClientRect(), film_ = document.getElementById("film").getBoundingClientRect();
          return { x: path.x + path.width / 2, y: path.y + path.height / 2, w: film_.width };
        })];
        const dx = want.x - cross.x, dy = want.y - cross.y;
        if (Math.abs(dx) <= 2.1 && Math.abs(dy) <= 2.1) break;
        if (Math.abs(dx) > 2.1) await page.keyboard.press(dx > 0 ? "Shift+ArrowRight" : "Shift+ArrowLeft");
        if (Math.abs(dy) > 2.1) await page.keyboard.press(dy > 0 ? "Shift+ArrowDown" : "Shift+ArrowUp");
      }
      await page.keyboard.press("Enter");
    };
    for (const limb of ["proximal", "distal", "side"]) await target(film.clicks[limb]);
    await page.waitForSelector("#drawing svg");
    const before = await held(page);
    await page.focus('.handle[data-limb="2"]');
    for (let i = 0; i < 6; i++) await page.keyboard.press("ArrowUp");
    await heldWith(page, (s) => s.measurement && !s.stale && s.clicks[2].y < before.clicks[2].y - 5 && s.measurement.clicks_px.side[1] < before.clicks[2].y - 5);
    assert.equal(await page.evaluate(() => document.activeElement.dataset.limb), "2", "the point keeps the focus");
    await page.keyboard.press("Control+s");
    await waitText(page, "#standing", "revision 1");
    await page.context().close();
  },

  async "wheel, arrow keys and playing go through the frames"() {
    const many = phantom("many", "--seed", "3", "--frames", "24", "--size", "512");
    const page = await open(chrome, server.address);
    await openCine(page, many.file);
    const box = await page.locator("#film").boundingBox();
    await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
    for (let i = 0; i < 5; i++) await page.mouse.wheel(0, 100);
    await waitText(page, "#frame-text", "6 / 24");
    await page.focus("#film");
    await page.keyboard.press("ArrowLeft");
    await waitText(page, "#frame-text", "5 / 24");
    await page.keyboard.press("End");
    await waitText(page, "#frame-text", "24 / 24");
    await page.keyboard.press(" ");
    await waitText(page, "#frame-text", "3 / 24");
    await page.keyboard.press(" ");
    const zoom = () => page.evaluate(async () => { const f = await import("/js/film.js"); return f.onPage({ x: 100, y: 0 }).x - f.onPage({ x: 0, y: 0 }).x; });
    const fitted = await zoom();
    await page.keyboard.press("+");
    assert.ok(await zoom() > 1.2 * fitted);
    const grey = () => page.evaluate(async () => (await import("/js/film.js")).getWindow());
    const one = await grey();
    await page.locator("#contrast").fill("80");
    assert.ok((await grey()).high - (await grey()).low < one.high - one.low);
    await page.click("#best");
    await page.waitForFunction(() => !document.getElementById("prompt").textContent.includes("Looking"));
    assert.deepEqual(page.complaints, []);
    await page.context().close();
  },

  async "clicks that are not saved survive a reload"() {
    const page = await open(chrome, server.address);
    await openCine(page, film.file);
    await click(page, film.clicks.proximal);
    await click(page, film.clicks.distal);
    const before = (await held(page)).clicks;
    await page.reload();
    await ready(page);
    assert.deepEqual((await held(page)).clicks, before);
    assert.ok((await text(page, "#prompt")).includes("3 of 3"));
    await click(page, film.clicks.side);
    await page.waitForSelector("#drawing svg");
    const measured = (await held(page)).measurement;
    await page.reload();
    await ready(page);
    await page.waitForSelector("#drawing svg");
    const after = await held(page);
    assert.deepEqual(after.measurement, measured);
    assert.ok(after.unsaved && await page.isEnabled("#save"));
    await page.context().close();
  },

  async "a server killed in between loses nothing that was saved, nor the clicks"() {
    const page = await open(chrome, server.address);
    await openCine(page, film.file);
    await measure(page, film.clicks);
    await page.click("#save");
    await waitText(page, "#standing", "revision 1");
    const kept = await held(page), { port } = server;
    await server.kill("SIGKILL");
    await waitText(page, "#alarm", "does not answer");
    await page.click("#restart");
    await click(page, film.clicks.proximal);
    server = await serve(data, port);
    await waitText(page, "#alarm", "no session");
    await enter(page, server.address);
    assert.equal(await page.isVisible("#alarm"), false);
    assert.deepEqual((await held(page)).clicks.map((p) => p !== null), [true, false, false]);
    await page.click("#open");
    await page.click(`[data-case="${kept.caseDoc.case_id}"]`);
    await page.waitForSelector("#drawing svg");
    const back = await held(page);
    assert.deepEqual(back.measurement, kept.measurement);
    assert.equal(back.basedOn, 1);
    assert.equal(await page.isEnabled("#save"), false);
    await page.context().close();
  },

  async "two writers see both versions"() {
    const one = await open(chrome, server.address);
    await openCine(one, film.file);
    await measure(one, film.clicks);
    await one.click("#save");
    await waitText(one, "#standing", "revision 1");
    const id = (await held(one)).caseDoc.case_id;
    const two = await open(chrome, server.address);
    await two.click("#open");
    await shot(two, "shelf");
    await axe(two);
    await two.click(`[data-case="${id}"]`);
    await two.waitForSelector("#drawing svg");
    const set = async (page, site) => {
      await page.evaluate(() => { document.getElementById("case-card").open = true; });
      await page.selectOption('#case-form label:has-text("site") select', site);
    };
    await set(two, "lcx_marginal");
    await two.click("#save");
    await waitText(two, "#standing", "revision 2");
    await waitText(one, "#standing", "revision 2 was saved elsewhere");
    await set(one, "lad_diagonal");
    await one.click("#save");
    await one.waitForSelector("#conflict[open]");
    const words = await text(one, "#conflict");
    assert.ok(words.includes("circumflex / marginal") && words.includes("LAD / diagonal"), words);
    await shot(one, "conflict");
    await axe(one);
    await one.click('[data-choice="mine"]');
    await waitText(one, "#standing", "revision 3");
    await one.context().close();
    await two.context().close();
  },

  async "hostile texts are shown as text"() {
    const hostile = path.join(work, `a${HURT.replaceAll("/", "")}\u0007.dcm`);
    copyFileSync(film.file, hostile);
    if (existsSync("/usr/bin/dcmodify")) execFileSync("dcmodify", ["-nb", "-m", `PatientName=${HURT}`, "-m", "PatientID=\u0007'\"<b>", "-i", `SeriesDescription=${HURT}`, hostile], { stdio: "ignore" });
    const page = await open(chrome, server.address);
    await openCine(page, hostile);
    await measure(page, film.clicks);
    const all = await page.content();
    assert.ok(!all.includes("window.hurt"), "names of patients are not shown at all");
    const junk = path.join(work, `junk${HURT.replaceAll("/", "")}\u202e\u0001.dcm`);
    writeFileSync(junk, "no film");
    await openFile(page, junk);
    await page.waitForSelector("#alarm:not([hidden])");
    const alarm = await text(page, "#alarm");
    assert.ok(alarm.includes("<img src=x onerror=") && alarm.includes("\ufffd") && !alarm.includes("\u202e"), alarm);
    assert.ok(alarm.includes("expected"), "what was found and what was expected");
    const measurement = (await held(page)).measurement;
    measurement.warnings.push({ code: "x", message: HURT });
    const answer = await page.evaluate(async ([m, hurt]) => {
      const { post } = await import("/js/api.js");
      return post("/api/cases", { based_on: 0, document: { schema: "branchkeep.case/1", measurements: [m], anatomy: { segments: { side: { vessel: hurt } } } } });
    }, [measurement, SHORT]);
    await page.click("#open");
    await page.click(`[data-case="${answer.case_id}"]`);
    await waitText(page, "#notes", HURT);
    assert.equal(await page.locator('#case-form label:text-is("side vessel") input').inputValue(), SHORT);
    assert.equal(await page.evaluate(() => window.hurt), undefined);
    assert.deepEqual(page.complaints.filter((c) => !c.includes("status of 422")), []);
    await page.context().close();
  },

  async "without a scale sizes are withheld, and one can be entered"() {
    const bare = phantom("bare", "--seed", "67", "--demo", "--missing", "sid,sod,spacing");
    const page = await open(chrome, server.address);
    await openCine(page, bare.file);
    await measure(page, bare.clicks);
    const words = await text(page, "#drawing");
    assert.ok(words.includes("withheld: no scale") && words.includes("%") && !words.includes("NaN"), words);
    await noOverlap(page);
    await shot(page, "withheld");
    await page.click("#scale-card summary");
    await page.selectOption("#scale select", "entered");
    await page.fill("#scale input", "0.25");
    await page.keyboard.press("Tab");
    await waitText(page, "#drawing", "0.250 mm/px");
    assert.ok(!(await text(page, "#drawing")).includes("withheld"));
    await page.context().close();
  },

  async "a limb that is closed at its ostium is drawn as a tick"() {
    const page = await open(chrome, server.address);
    await openCine(page, film.file);
    await measure(page, film.clicks);
    const { measurement } = await held(page);
    Object.assign(measurement.segments.distal, { // as `measure` says it: no samples
      occluded: true, mld_position_mm: 0.3, lesion_length_mm: null, occlusion: { stump: false, stop_mm: 0.3, refill_mm: 10.1, gap_mm: 9.8, seen_least_mm: 0.3 },
      profile: Object.fromEntries(Object.keys(measurement.segments.distal.profile).map((k) => [k, []])),
    });
    for (const scale of [measurement.calibration.mm_per_px, null]) {
      measurement.calibration.mm_per_px = scale;
      const { broken, ticks } = await page.evaluate(async (m) => {
        const { drawn } = await import("/js/drawing.js"), { curves } = await import("/js/curves.js"), svg = drawn(m);
        document.getElementById("curves").replaceChildren(...curves(m));
        document.getElementById("drawing").replaceChildren(svg);
        return { broken: (svg.outerHTML + document.getElementById("curves").innerHTML).match(/NaN|undefined|Infinity|d="Z"/g), ticks: [...svg.querySelectorAll(".tick")].map((t) => t.getBoundingClientRect()).filter((b) => b.width > 4 || b.height > 4).length };
      }, measurement);
      assert.equal(broken, null);
      assert.equal(ticks, 3);
      await noOverlap(page);
      await shot(page, `closed${scale ? "" : "-withheld"}`);
    }
    await page.context().close();
  },

  async "clicks beside every vessel are answered in words"() {
    const page = await open(chrome, server.address);
    await openCine(page, film.file);
    for (const p of [[20, 20], [22, 60], [60, 22]]) await click(page, p);
    await page.waitForFunction(() => document.querySelector("#prompt .held"));
    assert.ok((await text(page, "#prompt .held")).length > 20);
    await shot(page, "no-vessel");
    await page.context().close();
  },
};

await run(chrome, tests);
