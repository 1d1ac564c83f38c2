// SPDX-License-Identifier: GPL-3.0-or-later
// The cards of indication, strategies, risk, protection, steps, flow and territory: after a measurement, after a case with hostile text, and what they do without numbers.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { writeFileSync } from "node:fs";
import path from "node:path";
import { browser, finish, held, measure, open, openCine, phantom, program, serve, work } from "./common.mjs";

const text = (page, card) => page.locator(`#card-${card}`).evaluate((e) => e.textContent);
const chrome = await browser();
try {
  const data = path.join(work, "data"), server = await serve(data);
  let page = await open(chrome, server.address);
  for (const card of ["indication", "strategies", "risk", "protect", "steps"]) assert.ok((await text(page, card)).includes("needs a measurement"), card);

  const film = phantom("measured", "--seed", "67", "--demo");
  await openCine(page, film.file);
  await measure(page, film.clicks);
  await page.waitForSelector("#card-steps .steps");
  const protect = await text(page, "protect");
  for (const part of ["side branch stenosis at least 60 %", "not a chance of losing the branch", "wire 5.1 %, none 11.3 %", "common practice, no source",
    "share of the left ventricular mass", "not known", "of 100"]) assert.ok(protect.includes(part), part);
  assert.equal(await page.locator("#card-protect .ruled").count(), 8);
  assert.equal(await page.locator("#card-protect .here").count(), 1, "the case is in the picture");
  assert.ok((await text(page, "flow")).includes("cannot say"), "no site, no flow");
  const risk = await text(page, "risk");
  for (const part of ["odds at least", "counted: side branch below TIMI 3", "Not made for this case", "Where the literature contradicts itself", "standing: "]) assert.ok(risk.includes(part), part);
  const steps = await text(page, "steps");
  for (const part of ["open the main stent", "jailed wire", "Main stent 3.00 mm", "leaves last", "6 F guide: fits"]) assert.ok(steps.includes(part), part);
  assert.equal(await page.locator("#card-steps .lane-exposed").count(), 0, "the first option has a wire");
  const strategies = await text(page, "strategies");
  for (const part of ["provisional stenting with a jailed wire", "laid out, not chosen", "The other options (9)", "Published against it", "common practice, no source", "3 wires at most"]) assert.ok(strategies.includes(part), part);
  assert.equal(await page.locator("#card-strategies > .body > .rows > .option").count(), 3, "three at first, the rest on demand");
  const indication = await text(page, "indication");
  for (const part of ["what shows that this stenosis does harm?", "pressure measured by wire", "not recorded"]) assert.ok(indication.includes(part), part);

  // what if: the point moves, the rules that turn over are named, the case stays
  const placed = await page.locator("#card-protect .here").getAttribute("cy");
  await page.fill("#card-protect .what-if label:nth-of-type(2) input", "45");
  await page.click("#card-protect .what-if button");
  await page.waitForSelector("#card-protect .was");
  assert.equal(await page.locator("#card-protect .was").getAttribute("cy"), placed, "the hollow point is where the case is");
  assert.notEqual(await page.locator("#card-protect .here").getAttribute("cy"), placed);
  assert.ok((await page.locator("#card-protect .what-if").textContent()).includes("side 60: yes → no"));
  assert.equal((await held(page)).caseDoc.anatomy?.segments?.side?.stenosis_pct, undefined, "a what-if is not entered");

  const devices = await text(page, "devices");
  for (const part of ["main stent, side branch wired", "takes every planned moment", "Semi-compliant balloon", "cannot say: the list holds no compliance table", "Kissing pair", "needs 265 cm of wire", "published: 6 F"]) assert.ok(devices.includes(part), part);
  assert.equal(await page.locator("#card-devices .guides tbody tr").count(), 9, "every moment of provisional stenting");
  assert.equal(await page.locator("#card-devices .guides td.chosen .fit.no").count(), 0, "no planned moment is a no in the guide named");
  await page.locator("#card-devices summary", { hasText: "What decides" }).click();
  const circles = page.locator("#card-devices .section svg").first().locator("circle");
  assert.equal(await circles.count(), 3, "guide, balloon and wire are drawn");

  // a case without film, from entered numbers, with text that would hurt as markup
  const entered = path.join(work, "entered.json");
  writeFileSync(entered, JSON.stringify({ schema: "branchkeep.case/1", case_id: "entered", shelf: "demo", decision: { wire_side: "yes" },
    physiology: [{ limb: "side", stage: "baseline", index: "ffr", value: 0.79 }], anatomy: { site: "lcx_marginal", segments: {
    proximal: { vessel: "<img src=x onerror=window.hurt=1>", reference_mm: 3.6, mld_mm: 1.08 }, distal: { reference_mm: 2.75, mld_mm: 1.1 },
    side: { reference_mm: 2.5, stenosis_pct: 59, lesion_length_mm: 7 } } } }));
  execFileSync(program, ["cases", "import", entered, "--data", data], { stdio: ["ignore", "ignore", "inherit"] });
  assert.deepEqual(page.complaints, []);
  await page.context().close();
  page = await open(chrome, server.address);
  await page.click("#open");
  await page.click('[data-case="entered"]');
  await page.waitForFunction(() => document.querySelector("#card-steps")?.textContent.includes("provisional wire"));
  assert.equal(await page.locator("#card-steps .lane-exposed").count(), 0, "nothing is exposed while the wire is in");
  assert.ok((await text(page, "steps")).includes("leave the jailed wire where it is"));
  assert.ok((await text(page, "protect")).includes("not met"), "59 % is under the line");
  assert.ok(/[45] in 10 that it is really at least 60 %/.test(await text(page, "protect")), "and nearly on it");
  // no lesion length in the main vessel: nothing is computed, and what the wire read still stands
  const before = await text(page, "flow");
  assert.ok(before.includes("measured ffr 0.79") && before.includes("computed: cannot say"), before);
  assert.ok((await text(page, "devices")).includes("Demo stent 2.75"), "from the list that the case names");
  assert.ok((await text(page, "devices")).includes("invented"));
  assert.equal(await page.evaluate(() => globalThis.hurt), undefined);

  // a case with all that flow needs
  const whole = path.join(work, "whole.json"), limb = (reference_mm, mld_mm) => ({ reference_mm, mld_mm, lesion_length_mm: 8, length_mm: 30 });
  writeFileSync(whole, JSON.stringify({ schema: "branchkeep.case/1", case_id: "whole", anatomy: { site: "lcx_marginal", angles: { proximal_side_deg: 130 },
    segments: { proximal: limb(3.5, 2.6), distal: limb(3, 1.3), side: limb(2.5, 1.2) } } }));
  execFileSync(program, ["cases", "import", whole, "--data", data], { stdio: ["ignore", "ignore", "inherit"] });
  await page.click("#open");
  await page.click('[data-case="whole"]');
  await page.waitForSelector("#card-flow .strategies", { state: "attached" });
  // pressures: every strategy is there, the pull-back is drawn, lesions say what they take
  const flow = await text(page, "flow");
  for (const part of ["provisional, provisional wire, jailed balloon", "kissing predilatation", "inverted", "single limb", "dcb side",
    "t, tap, culotte, dk culotte, dk crush", "main stent, then side balloon or kissing", "What each lesion takes", "of what this limb loses",
    "if oval"]) assert.ok(flow.includes(part), part);
  assert.equal(await page.locator("#card-flow .pull-back .line").count(), 3);
  assert.equal(await page.locator("#card-flow .strategies tbody tr").count(), 8);
  assert.ok((await text(page, "territory")).includes("Left ventricle: mass not known"));
  assert.deepEqual(page.complaints, []);
  console.log("ok cards of indication, strategies, risk, protection, steps, flow and territory");
} finally {
  await chrome.close();
  finish();
}
