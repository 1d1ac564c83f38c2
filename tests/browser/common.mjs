// SPDX-License-Identifier: GPL-3.0-or-later
// Starting the server and a browser for the tests of the page; what is missing makes a skip (exit 77), not a failure.
import { execFileSync, spawn } from "node:child_process";
import assert from "node:assert/strict";
import { existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import path from "node:path";
import { fileURLToPath } from "node:url";

export const source = path.resolve(path.dirname(fileURLToPath(import.meta.url)), "../..");
export const program = process.env.BRANCHKEEP_BIN || path.join(source, "build/branchkeep");
export const work = mkdtempSync(path.join(tmpdir(), "branchkeep-page-"));
const CHROMIUM = ["/usr/bin/chromium", "/usr/bin/chromium-browser"].find(existsSync);

function skip(why) {
  console.log(`SKIP: ${why}`);
  process.exit(77);
}

async function playwright() {
  try {
    return await import("playwright-core");
  } catch {
    return skip("playwright-core is not installed (npm ci)");
  }
}

export async function browser() {
  if (!CHROMIUM) skip("chromium is not installed");
  const { chromium } = await playwright();
  const root = process.getuid() === 0 ? ["--no-sandbox"] : [];
  return chromium.launch({ executablePath: CHROMIUM, args: ["--disable-dev-shm-usage", ...root] });
}

const children = new Set();

/** @returns {Promise<{address: string, port: number, kill: (signal?: string) => Promise<void>}>} */
export function serve(data, port = 0) {
  const child = spawn(program, ["serve", "--port", String(port), "--data", data], { stdio: ["ignore", "pipe", "inherit"] });
  children.add(child);
  const ended = new Promise((resolve) => child.once("exit", resolve));
  return new Promise((resolve, reject) => {
    child.once("exit", (code) => reject(new Error(`the server ended with ${code}`)));
    child.stdout.once("data", (text) => {
      const address = String(text).trim();
      resolve({ address, port: Number(new URL(address).port), kill: (signal = "SIGTERM") => { child.kill(signal); return ended; } });
    });
  });
}

export function finish() {
  for (const child of children) child.kill("SIGKILL");
  rmSync(work, { recursive: true, force: true });
}

/** A phantom with its truth: {file, clicks, frame}. */
export function phantom(name, ...options) {
  const folder = path.join(work, name);
  execFileSync(program, ["phantom", "--out", folder, ...options], { stdio: ["ignore", "ignore", "inherit"] });
  const view = JSON.parse(readFileSync(path.join(folder, "truth.json"), "utf8")).views[0];
  return { file: path.join(folder, "view1.dcm"), clicks: view.clicks, frame: view.frame };
}

/** A page that is let in; what the browser complains about is collected in page.complaints. */
export async function open(browser_, address, size = { width: 1280, height: 800 }) {
  const context = await browser_.newContext({ viewport: size });
  return enter(await context.newPage(), address);
}

export async function enter(page, address) {
  page.complaints = page.complaints || [];
  page.removeAllListeners("console");
  page.on("console", (m) => { if (m.type() === "error") page.complaints.push(m.text()); });
  page.on("pageerror", (e) => page.complaints.push(String(e)));
  await page.goto("about:blank"); // the same address with another fragment would not load anew
  await page.goto(address);
  await ready(page);
  return page;
}

export async function ready(page) {
  await page.waitForFunction(() => document.documentElement.dataset.ready === "yes");
}

export async function openFile(page, file) {
  await page.click("#open");
  await page.waitForSelector("#shelf[open]");
  await page.setInputFiles("#file", file);
  await page.waitForFunction(() => !document.querySelector("dialog[open]"));
}

export async function openCine(page, file) {
  await openFile(page, file);
  await page.waitForFunction(() => document.getElementById("prompt").textContent.startsWith("Click 1 of 3"));
}

export function onPage(page, point) {
  return page.evaluate(async (p) => (await import("/js/film.js")).onPage({ x: p[0], y: p[1] }), point);
}

export async function click(page, point) {
  const at = await onPage(page, point);
  await page.mouse.click(at.x, at.y);
}

export async function measure(page, clicks) {
  for (const limb of ["proximal", "distal", "side"]) await click(page, clicks[limb]);
  await page.waitForSelector("#drawing svg");
}

/** What the page holds. */
export function held(page) {
  return page.evaluate(async () => {
    const { state } = await import("/js/state.js");
    return JSON.parse(JSON.stringify({ ...state, cine: state.cine && { id: state.cine.id } }));
  });
}

const SHOTS = process.env.BRANCHKEEP_SHOTS; // a folder for pictures to look at

export async function shot(page, name) {
  if (!SHOTS) return;
  mkdirSync(SHOTS, { recursive: true });
  await page.screenshot({ path: path.join(SHOTS, `${name}.png`) });
}

export async function axe(page) {
  const file = createRequire(import.meta.url).resolve("axe-core/axe.min.js");
  await page.evaluate(readFileSync(file, "utf8"));
  const { violations } = await page.evaluate(() => globalThis.axe.run(document, { resultTypes: ["violations"] }));
  const bad = violations.filter((v) => ["serious", "critical"].includes(v.impact));
  assert.deepEqual(bad.map((v) => `${v.id}: ${v.nodes.map((n) => n.html).join(" | ")}`), []);
}

export const text = (page, where) => page.textContent(where);
export const waitText = (page, where, part) => page.waitForFunction(([w, p]) => document.querySelector(w).textContent.includes(p), [where, part]);

/** All tests, or those whose name has the first argument in it; output is TAP. Ends the program. */
export async function run(chrome, tests) {
  let failed = 0, n = 0;
  console.log(`1..${Object.keys(tests).length}`);
  for (const [name, test] of Object.entries(tests)) {
    n++;
    if (process.argv[2] && !name.includes(process.argv[2])) { console.log(`ok ${n} - ${name} # SKIP not asked for`); continue; }
    try {
      await test();
      console.log(`ok ${n} - ${name}`);
    } catch (error) {
      failed++;
      console.log(`not ok ${n} - ${name}\n${String(error.stack).split("\n").slice(0, 30).map((l) => `# ${l}`).join("\n")}`);
    }
  }
  await chrome.close();
  finish();
  process.exit(failed ? 1 : 0);
}

/** Wait until what the page holds passes; the page's own wait takes a promise for a yes. @param {(state: any) => any} test */
export async function heldWith(page, test) {
  const end = Date.now() + 20000;
  for (;;) {
    const state = await held(page);
    if (test(state)) return state;
    if (Date.now() > end) throw new Error(`waited in vain for ${test}`);
    await new Promise((resolve) => setTimeout(resolve, 30));
  }
}

// ---- cases without a film ----

export const cardText = (page, card) => page.locator(`#card-${card}`).evaluate((e) => e.textContent);

/** A case with these parts in the store of that folder. */
export function keepCase(data, id, parts) {
  const file = path.join(work, `${id}.json`);
  writeFileSync(file, JSON.stringify({ schema: "branchkeep.case/1", case_id: id, ...parts }));
  execFileSync(program, ["cases", "import", file, "--data", data], { stdio: ["ignore", "ignore", "inherit"] });
}

/** Open it and wait until the cards say these words. */
export async function showCase(page, id, until) {
  await page.click("#open");
  await page.click(`[data-case="${id}"]`);
  await page.waitForFunction((words) => document.querySelector("#cards").textContent.includes(words), until);
}
