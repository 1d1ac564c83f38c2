/* SPDX-License-Identifier: GPL-3.0-or-later */
// Opening cines and cases, and saving.
import { Refused, get, post } from "./api.js";
import { askAll } from "./cards.js";
import { askConflict, drawForm } from "./cases.js";
import { byId } from "./dom.js";
import * as film from "./film.js";
import { showLive } from "./live.js";
import { drawInputs, unmeasured } from "./measuring.js";
import { saidOf } from "./say.js";
import { scaleOf } from "./scale.js";
import { alarm, fail, refresh, setBusy, showMeasurement } from "./show.js";
import { askSpace } from "./space.js";
import { state } from "./state.js";
import { LIMBS } from "./words.js";

// ---- the case ----

// As it would be saved now: the opened document with this measurement in its place.
function currentDocument() {
  const doc = structuredClone(state.caseDoc || { schema: "branchkeep.case/1" });
  if (state.measurement) {
    doc.measurements = doc.measurements || [];
    doc.measurements[state.measurementAt >= 0 ? state.measurementAt : doc.measurements.length] = state.measurement;
  }
  return doc;
}

export function ask() {
  const has = (...parts) => state.caseDoc && parts.some((part) => state.caseDoc[part]);
  const bifurcation = state.measurement || has("anatomy", "measurements");
  const worth = bifurcation || has("patient", "procedure", "injury", "result", "imaging", "labs", "log"); // budgets need no bifurcation
  askAll(state.about, worth ? currentDocument() : null);
  askSpace(bifurcation ? currentDocument() : null, keepSolid);
  showLive(worth ? currentDocument() : null, keepLog);
}

// An event counts once it is in the store.
async function keepLog(log) {
  state.caseDoc = { ...(state.caseDoc || { schema: "branchkeep.case/1" }), log };
  state.unsaved = true;
  refresh();
  await save();
  askAll(state.about, currentDocument());
}

function keepSolid(solid) {
  state.caseDoc = { ...(state.caseDoc || { schema: "branchkeep.case/1" }), solid };
  state.unsaved = true;
  refresh();
  ask();
}

export function drawCase() {
  state.caseDoc = state.caseDoc || { schema: "branchkeep.case/1" };
  drawForm(state.caseDoc, () => { state.unsaved = true; refresh(); ask(); }).catch(fail);
}

export async function save() {
  alarm("");
  const document_ = currentDocument();
  const at = state.measurement && state.measurementAt < 0 ? document_.measurements.length - 1 : state.measurementAt;
  try {
    saved(document_, at, await post("/api/cases", { document: document_, based_on: state.basedOn }));
  } catch (error) {
    if (!(error instanceof Refused) || error.code !== 409 || !error.body.theirs) { fail(error); return; }
    const choice = await askConflict(document_, error.body);
    if (choice === "theirs") await openCase(error.body.case_id);
    if (choice === "mine") {
      state.basedOn = error.body.revision;
      await save();
    }
  }
}

function saved(document_, at, result) {
  document_.case_id = result.case_id;
  document_.revision = result.revision;
  state.caseDoc = document_;
  state.basedOn = result.revision;
  state.measurementAt = at;
  state.unsaved = false;
  drawCase();
  refresh();
}

export async function openCase(id) {
  try {
    alarm("");
    const doc = await get(`/api/cases/${encodeURIComponent(id)}`);
    const list = doc.measurements || [], at = list.length - 1, m = list[at];
    Object.assign(state, { caseDoc: doc, basedOn: doc.revision, measurementAt: at, unsaved: false, ...unmeasured() });
    drawCase();
    if (m) await openMeasured(m);
    else { drawInputs(); refresh(); ask(); }
  } catch (error) { fail(error); }
}

// A kept measurement is shown as it was kept; its film, when it is kept here too.
export async function openMeasured(m) {
  state.say = saidOf(m);
  state.scale = scaleOf(m);
  state.clicks = LIMBS.map((limb) => (m.clicks_px && m.clicks_px[limb] ? { x: m.clicks_px[limb][0], y: m.clicks_px[limb][1] } : null));
  try {
    await loadCine(m.source.file_sha256, m.source.frame);
  } catch (error) {
    film.closeFilm();
    state.cine = null;
    byId("empty").textContent = "The film of this case is not kept here.";
    if (!(error instanceof Refused) || error.code !== 404) throw error;
  }
  state.measurement = m;
  state.stale = false;
  drawInputs();
  showMeasurement();
  refresh();
  ask();
}

// ---- the film ----

export async function loadCine(id, frame) {
  const info = await get(`/api/cines/${id}`);
  state.cine = { id, info };
  byId("empty").textContent = "";
  byId("frame").max = info.frames;
  film.openFilm(state.cine);
  byId("brightness").value = byId("contrast").value = 50;
  await film.showFrame(Math.min(info.frames, Math.max(1, frame)));
}

export async function openCine(id) {
  try {
    alarm("");
    setBusy("");
    Object.assign(state, { ...unmeasured(), measurementAt: -1 });
    await loadCine(id, 1);
    drawInputs();
    showMeasurement();
    refresh();
  } catch (error) { fail(error); }
}

export function newCase() {
  if (state.unsaved && !confirm("What is not saved will be dropped. Begin a new case?")) return;
  Object.assign(state, { ...unmeasured(), caseDoc: null, basedOn: 0, measurementAt: -1, unsaved: false });
  drawInputs();
  drawCase();
  showMeasurement();
  refresh();
  ask();
}

