// SPDX-License-Identifier: GPL-3.0-or-later
// The cards of budget and injury: from entered numbers alone, with what cannot be said, with hostile text, and after a change in the form.
import assert from "node:assert/strict";
import path from "node:path";
import { browser, cardText as text, finish, keepCase as keep, open, serve, showCase as show, work } from "./common.mjs";

const chrome = await browser();
try {
  const data = path.join(work, "data"), server = await serve(data);
  // the invented man of 74 with creatinine 2.9 mg/dL; limits worked by hand
  keep(data, "kidneys", { patient: { age_y: 74, sex: "male", weight_kg: 66, creatinine_mg_dl: 2.9, presentation: "stemi" },
    procedure: { contrast_ml: 38, air_kerma_gy: 5.2, kerma_area_gy_cm2: 1, gp_inhibitor: "no", act_family: "low_reading", act_s: 240, act_minutes_ago: 40 } });
  keep(data, "dialysis", { patient: { age_y: 70, sex: "female", weight_kg: 60, creatinine_mg_dl: 6, dialysis: "yes" }, procedure: { contrast_ml: 90 } });
  keep(data, "branch", { patient: { presentation: "chronic" }, labs: [{ at: "2026-11-26T08:00", test: "<img src=x onerror=window.hurt=1>", value: 1 }], procedure: { ended_at: "<script>window.hurt=1</script>" },
    injury: { troponin_baseline_x: 0.6, troponin_peak_x: 40, hours_after: 18, side_branch_occluded: "yes", side_branch_reference_mm: { value: 2.1, sd: 0.1, origin: "measured" }, occlusion_minutes: 9,
      new_q_waves: "no", new_lbbb: "no", ecg_ischaemia: "no", imaging_loss: "no", flow_limiting_complication: "no" } });
  const page = await open(chrome, server.address);
  for (const card of ["budget", "injury"]) assert.ok((await text(page, card)).includes("needs a measurement"), card);

  await show(page, "kidneys", "4 mL left");
  const budget = await text(page, "budget");
  for (const part of ["eGFR: 22 mL/min/1.73 m² (G4)", "clearance: 21 mL/min", "114 mL", "42 mL", "63 mL", "77 mL", "39 mL", "1 mL left (97 % used)", "strictest", "budgets, not predictions", "Nothing here blocks",
    "never delayed", "5 Gy of air kerma at the reference point reached: follow-up level", "mean field of 0.2 cm2", "4600 to 6600 U", "check local label", "last 240 s: below", "Next due 10 min ago", "High bleeding risk (ARC): yes",
    "12 months with prasugrel or ticagrelor"]) assert.ok(budget.includes(part), `budget lacks: ${part}`);
  assert.equal(await page.locator("#card-budget .budget-limit").count(), 5, "a bar for each rule");
  assert.equal(await page.locator("#card-budget .budget-used").count(), 5);
  assert.ok((await text(page, "injury")).includes("not classifiable"));

  await show(page, "dialysis", "contrast limits cannot be given");
  assert.equal(await page.locator("#card-budget .budget-limit").count(), 0, "no bar where no limit can be given");

  await show(page, "branch", "infarction, type 4a");
  const injury = await text(page, "injury");
  for (const part of ["Universal, fourth (2018)", "ARC-2 with Bif-ARC", "depends", "84 in 100", "closed for 9 min", "a troponin is not turned into grams", "Follow-up sheet", "aspirin and clopidogrel; check local label",
    "the side branch was closed for 9 min", "Kidney injury: cannot say"]) assert.ok(injury.includes(part), `injury lacks: ${part}`);
  assert.equal(await page.evaluate(() => globalThis.hurt), undefined);

  // the form has the fields of the procedure and of the injury, and a change is asked at once
  await page.locator("summary", { hasText: "Patient and anatomy" }).click();
  await page.locator("summary", { hasText: "After: injury" }).click();
  await page.getByLabel("side branch reference [mm]").last().fill("2.6");
  await page.getByLabel("side branch reference [mm]").last().dispatchEvent("change");
  await page.waitForFunction(() => !document.querySelector("#card-injury").textContent.includes("84 in 100"));
  assert.deepEqual(page.complaints, []);
  console.log("ok cards of budget and injury");
} finally {
  await chrome.close();
  finish();
}
