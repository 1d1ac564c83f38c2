// SPDX-License-Identifier: GPL-3.0-or-later
// The card of the procedure: keys write events that are in the store at once, the state stands before the alert, one key undoes, hostile
// text stays text, and a reload finds everything.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { writeFileSync } from "node:fs";
import path from "node:path";
import { browser, finish, open, program, serve, work } from "./common.mjs";

const chrome = await browser();
try {
  const data = path.join(work, "data"), server = await serve(data), file = path.join(work, "case.json");
  writeFileSync(file, JSON.stringify({ schema: "branchkeep.case/1", case_id: "table", decision: { strategy: "provisional_wire" }, patient: { age_y: 67, sex: "male", weight_kg: 82, creatinine_mg_dl: 1.1 }, procedure: { contrast_rule: "egfr_1_78" },
    log: [{ event: "note", text: "<img src=x onerror=window.hurt=1>", at: "2026-11-27T10:00:00Z" }] }));
  execFileSync(program, ["cases", "import", file, "--data", data], { stdio: ["ignore", "ignore", "inherit"] });
  const page = await open(chrome, server.address), body = page.locator("#live-body");
  const shows = (text) => page.waitForFunction((t) => document.querySelector("#live-body").textContent.includes(t), text);
  const kept = (n) => page.waitForFunction(async (want) => ((await (await fetch("/api/cases/table")).json()).log || []).length === want, n);
  await page.click("#open");
  await page.click('[data-case="table"]');
  await page.locator("#live-card summary").first().click();
  await shows("undo 1");
  await body.focus();
  await page.keyboard.press("w");
  await shows("1 beside nothing");
  await kept(2);
  await page.keyboard.press("s"); // a stent needs its size: nothing is written, the field is waiting
  assert.equal(await page.evaluate(() => document.activeElement.getAttribute("data-field")), "mm");
  await page.keyboard.type("3");
  await page.click('#live-body [data-key="s"]');
  await shows("Do not pull the side wire");
  await kept(3);
  const text = await body.textContent();
  assert.ok(text.indexOf("behind struts") >= 0 && text.indexOf("behind struts") < text.indexOf("Do not pull"), "the state stands before advice");
  assert.ok(text.includes("common practice, no source"));
  assert.equal(await page.locator("#live-body .alert").count(), 1, "at most one");
  await page.click('#live-body [data-key="u"]');
  await shows("1 beside nothing");
  assert.equal(await page.locator("#live-body .alert").count(), 0);
  await kept(4);
  await page.fill('#live-body [data-field="mm"]', "33");
  await page.click('#live-body [data-key="p"]');
  await shows("0.5 to 8 mm was expected");
  await page.fill(`#live-body [data-field="mm"]`, "");
  await page.fill('#live-body [data-field="mL"]', "150");
  await page.click('#live-body [data-key="l"]');
  await shows("budget, not a prediction");
  await kept(5);
  await page.reload();
  await page.locator("#live-card summary").first().click();
  await shows("150mL");
  assert.equal(await page.evaluate(() => globalThis.hurt), undefined);
  assert.deepEqual(page.complaints.filter((c) => !c.includes("422")), [], "the refused POT is the only thing a browser complains of");
} finally {
  await chrome.close();
}
finish();
