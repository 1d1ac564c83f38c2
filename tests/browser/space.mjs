// SPDX-License-Identifier: GPL-3.0-or-later
// The card about space: one view asks for a second, two films of one case give lengths and angles, which are kept with it.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { readFileSync } from "node:fs";
import path from "node:path";
import { browser, finish, measure, open, openCine, program, serve, work } from "./common.mjs";

const folder = path.join(work, "pair");
execFileSync(program, ["phantom", "--seed", "3", "--two-views", "--shift", "4", "--out", folder], { stdio: ["ignore", "ignore", "inherit"] });
const truth = JSON.parse(readFileSync(path.join(folder, "truth.json"), "utf8"));
const text = (page) => page.locator("#space-card").evaluate((e) => e.textContent);
const shown = (page, part) => page.waitForFunction((t) => document.querySelector("#space-card").textContent.includes(t), part);
const chrome = await browser();
try {
  const server = await serve(path.join(work, "data")), page = await open(chrome, server.address);
  assert.ok((await text(page)).includes("needs a measurement"));
  await openCine(page, path.join(folder, "view1.dcm"));
  await measure(page, truth.views[0].clicks);
  await shown(page, "Measure a second film of this case");
  assert.equal(await page.locator("#space-card table").count(), 0);
  await page.click("#save");
  await page.waitForFunction(() => document.querySelector("#save").disabled);
  await openCine(page, path.join(folder, "view2.dcm"));
  await measure(page, truth.views[1].clicks);
  await page.waitForSelector("#space-card table");
  const cells = await page.locator("#space-card tbody tr").first().locator("td").allTextContents();
  for (const [i, limb] of ["proximal", "distal", "side"].entries()) {
    const length = Number(cells[i].split(" ")[0]), true_ = truth.space.segments[limb].click_space_mm;
    assert.ok(Math.abs(length - true_) < 2.5, `${limb}: ${cells[i]} for ${true_}`);
  }
  assert.ok((await text(page)).includes("Best in reach"));
  await page.locator("#space-card summary", { hasText: "Map of C-arm positions" }).click();
  await page.waitForFunction(() => [...document.querySelectorAll("#space-card img")].filter((i) => i.naturalWidth > 0).length === 2);
  if (process.env.BRANCHKEEP_SHOTS) await page.locator("#space-card").screenshot({ path: path.join(process.env.BRANCHKEEP_SHOTS, "space.png") });
  await page.click("#keep-space");
  await shown(page, "Kept in the case");
  await page.click("#save");
  await page.waitForFunction(() => document.querySelector("#save").disabled);
  await page.reload();
  await page.waitForSelector("#space-card table");
  await shown(page, "Kept in the case");
  assert.deepEqual(page.complaints, []);
  console.log("ok the card about space");
} finally {
  await chrome.close();
  finish();
}
