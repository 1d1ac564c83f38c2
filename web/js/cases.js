/* SPDX-License-Identifier: GPL-3.0-or-later */
// What is kept: the list of cines and cases, the form of a case, and two writers of one case.
import { get, upload } from "./api.js";
import { byId, h, visible } from "./dom.js";
import { LIMBS, SITES, angleName, has, label, said } from "./words.js";

function day(text) {
  return text ? visible(text).replace("T", " ").slice(0, 16) : "";
}

function table(heads, rows, none) {
  if (!rows.length) return h("p", { class: "quiet" }, none);
  return h("table", {}, h("thead", {}, h("tr", {}, heads.map((t) => h("th", { scope: "col" }, t)))), h("tbody", {}, rows.map((r) => h("tr", {}, r.map((c) => h("td", {}, c))))));
}

function cineRows(cines, open) {
  return cines.map((c) => [
    h("button", { type: "button", "data-cine": c.sha256, onclick: () => open(c.sha256) }, c.sha256.slice(0, 8)),
    c.frames ? `${c.frames} × ${c.columns} × ${c.rows}` : "", angleName(c), day(c.added_at),
  ]);
}

function caseRows(cases, open) {
  return cases.map((c) => [
    h("button", { type: "button", "data-case": c.case_id, onclick: () => open(c.case_id) }, visible(c.case_id)),
    SITES[c.site] || "–", c.stage ? visible(c.stage) : "–", c.revision, day(c.saved_at),
  ]);
}

/** @param {{cine: (id: string) => void, case: (id: string) => void, fail: (e: any) => void}} on */
export async function showShelf(on) {
  const dialog = byId("shelf");
  const [cines, cases] = await Promise.all([get("/api/cines"), get("/api/cases")]);
  const close = () => dialog.close();
  const file = h("input", { type: "file", id: "file", accept: ".dcm,application/dicom,*/*", "aria-label": "DICOM file", onchange: (e) => {
    if (e.target.files.length) { close(); takeFile(e.target.files[0], on); }
  } });
  dialog.replaceChildren(
    h("div", { class: "closing" }, h("h2", { id: "shelf-title" }, "Cines and cases"), h("button", { type: "button", onclick: close }, "Close")),
    h("div", { class: "row" }, h("label", {}, "Open a DICOM file: ", file)), h("p", { class: "quiet" }, "or drop it on the film. It is kept once, by its content, on this machine."),
    h("h3", {}, "Cases"), table(["case", "site", "stage", "revision", "saved"], caseRows(cases.cases, (id) => { close(); on.case(id); }), "No case is kept yet."),
    h("h3", {}, "Cines"), table(["cine", "frames", "view", "kept since"], cineRows(cines.cines, (id) => { close(); on.cine(id); }), "No cine is kept yet."));
  dialog.showModal();
}

/** @param {File} file */
export async function takeFile(file, on) {
  try {
    on.busy(`reading ${visible(file.name)} …`);
    on.cine((await upload(file)).sha256);
  } catch (error) {
    error.message = `${visible(file.name)}: ${error.message}`;
    on.fail(error);
  }
}

// ---- the form: made from the field tables, so it asks for what the program takes and nothing else ----

function read(doc, path) {
  return path.split(".").reduce((at, key) => (at && typeof at === "object" ? at[key] : undefined), doc);
}

function write(doc, path, value) {
  const keys = path.split("."), last = keys.pop();
  const at = keys.reduce((o, key) => (o[key] = o[key] && typeof o[key] === "object" ? o[key] : {}), doc);
  if (value === null) delete at[last];
  else at[last] = value;
}

function control(field, doc, changed) {
  const now = read(doc, field.name), value = now && typeof now === "object" ? now.value : now;
  const choices = field.choices || (field.kind === "yes/no/unknown" ? ["unknown", "yes", "no"] : null);
  const text = label(field.name.split(".").filter((part) => !["patient", "anatomy", "indication", "procedure", "injury", "result", "segments", "bleeding_history"].includes(part)).join(" "));
  const set = (v) => { write(doc, field.name, v); changed(); };
  const input = choices
    ? h("select", { onchange: (e) => set(e.target.value || null) }, h("option", { value: "" }, "–"), choices.map((c) => h("option", { value: c, selected: c === value }, c.replaceAll("_", " "))))
    : field.kind === "text" ? h("input", { type: "text", value: value ?? "", onchange: (e) => set(e.target.value || null) })
      : h("input", { type: "number", step: "any", min: field.min, max: field.max, value: value ?? "", onchange: (e) => set(e.target.value === "" ? null : Number(e.target.value)) });
  return h("label", { title: field.meaning }, text, input);
}

let fields = null;

/** @param {any} doc the case document, changed in place @param {() => void} changed */
export async function drawForm(doc, changed) {
  fields = fields || (await Promise.all(["patient", "anatomy", "procedure", "injury", "indication", "result"].map((t) => get(`/api/fields/${t}`)))).map((f) => f.fields);
  const kinds = new Set(["quantity", "number", "whole number", "choice", "text", "yes/no/unknown"]);
  const group = (list) => h("div", { class: "form" }, list.filter((f) => kinds.has(f.kind)).map((f) => control(f, doc, changed)));
  const history = (f) => f.name.startsWith("patient.bleeding_history.");
  const limb = (f) => f.name.startsWith("anatomy.segments.") || f.name.startsWith("anatomy.extra_limb.");
  byId("case-form").replaceChildren(
    h("p", { class: "quiet" }, "No names, no numbers of the patient. What is entered here goes before what was measured."),
    h("h3", {}, "Patient"), group(fields[0].filter((f) => !history(f))),
    h("details", {}, h("summary", {}, "What raises the risk of bleeding"), group(fields[0].filter(history))), h("h3", {}, "Treat at all?"), group(fields[4]), h("h3", {}, "Anatomy"), group(fields[1].filter((f) => !limb(f))),
    h("details", {}, h("summary", {}, "Limbs, entered by hand"), group(fields[1].filter(limb))),
    h("details", {}, h("summary", {}, "The procedure: contrast, dose, ACT"), group(fields[2])),
    h("details", {}, h("summary", {}, "After: injury, kidney, bleeding"), group(fields[3])),
    h("details", {}, h("summary", {}, "After: the result"), group(fields[5])));
}

// ---- two writers ----

function summary(doc) {
  const list = doc.measurements || [], m = list[list.length - 1];
  const rows = [["revision", doc.revision ?? "not saved"], ["site", SITES[doc.anatomy && doc.anatomy.site] || "–"], ["measurements", list.length]];
  if (m) {
    rows.push(["Medina", m.medina], ["frame", m.source.frame]);
    for (const limb of LIMBS) rows.push([limb, has(m.segments[limb].stenosis_pct) ? `${said(m.segments[limb].stenosis_pct, 0)} %` : "–"]);
  }
  return h("dl", {}, rows.map(([k, v]) => [h("dt", {}, k), h("dd", {}, visible(v))]));
}

/** Both versions side by side. Resolves to "mine", "theirs" or "". @returns {Promise<string>} */
export function askConflict(mine, conflict) {
  const dialog = byId("conflict");
  return new Promise((resolve) => {
    let choice = "";
    const button = (value, text, cls) => h("button", { type: "button", class: cls, "data-choice": value, onclick: () => { choice = value; dialog.close(); } }, text);
    dialog.replaceChildren(
      h("h2", { id: "conflict-title" }, "Saved elsewhere in the meantime"),
      h("p", { class: "quiet" }, `This page began from revision ${conflict.based_on}; revision ${conflict.revision} is newer. Nothing was overwritten: every revision stays in the store.`),
      h("div", { class: "columns card" }, h("div", {}, h("h3", {}, "On this page"), summary({ ...mine, revision: undefined })), h("div", {}, h("h3", {}, "In the store"), summary(conflict.theirs))),
      h("div", { class: "row" }, button("mine", `Save this page's as revision ${conflict.revision + 1}`, null), button("theirs", "Open the store's", null), button("", "Neither now", null)));
    dialog.addEventListener("close", () => resolve(choice), { once: true });
    dialog.showModal();
  });
}
