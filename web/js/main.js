/* SPDX-License-Identifier: GPL-3.0-or-later */
// Joins the parts: what happens when.
import { Refused, enter, get, post } from "./api.js";
import { askAll, makeCards } from "./cards.js";
import { askConflict, drawForm, showShelf, takeFile } from "./cases.js";
import { curves } from "./curves.js";
import { byId, h, visible } from "./dom.js";
import { drawn } from "./drawing.js";
import * as film from "./film.js";
import { drawScale, scaleRequest, takesClicks } from "./scale.js";
import { keep, kept, nextLimb, state } from "./state.js";
import { LIMBS, LIMB_NAMES, angleName } from "./words.js";

const REST_MS = 250; // after a point was moved by key, before it is measured again

let measuring = null, resting = 0, busy = "";

// ---- saying things ----

function alarm(text) {
  byId("alarm").hidden = !text;
  byId("alarm").textContent = text || "";
}

function fail(error) {
  if (error.name === "AbortError") return;
  busy = "";
  if (error instanceof Refused && error.code === 401) alarm("This page has no session with the server. Open the address that branchkeep serve printed; points that were set are kept in this tab.");
  else alarm(error instanceof Refused ? visible(error.message) : `The server does not answer (${visible(error.message)}). Points that were set are kept in this tab.`);
  showPrompt();
}

function showPrompt() {
  const at = nextLimb(), prompt = byId("prompt");
  const say = (...parts) => prompt.replaceChildren(...parts);
  byId("undo").disabled = state.clicks.every((p) => p === null);
  byId("restart").disabled = byId("undo").disabled;
  byId("save").disabled = !state.unsaved || !(state.measurement || state.caseDoc);
  if (busy) say(busy);
  else if (!state.cine) say("Open a cine to begin.");
  else if (takesClicks()) say(`Scale: click point ${(state.scale.catheter || []).length + 1} of 2.`);
  else if (at >= 0) say(`Click ${at + 1} of 3: in the `, h("strong", { class: LIMBS[at] }, LIMB_NAMES[LIMBS[at]]), at === 0 ? ", upstream of the fork." : ", downstream of the fork.");
  else if (state.trouble) say(h("span", { class: "held" }, visible(state.trouble)));
  else if (state.measurement && state.measurement.source.frame !== state.frame) say(`Measured on frame ${state.measurement.source.frame}. `, h("button", { type: "button", onclick: () => film.showFrame(state.measurement.source.frame) }, "Go there"));
  else say(state.stale ? "Measuring …" : "Measured. Drag a point to correct it.");
}

function showStanding() {
  const parts = [];
  if (state.cine) parts.push(`${state.cine.info.frames} frame${state.cine.info.frames === 1 ? "" : "s"} · ${angleName(state.cine.info)}`);
  if (state.caseDoc && state.basedOn) parts.push(`case ${visible(state.caseDoc.case_id)} · revision ${state.basedOn}`);
  if (state.unsaved) parts.push("not saved");
  byId("standing").textContent = parts.join(" · ");
}

function showNotes() {
  const m = state.measurement, list = [];
  if (state.cine) for (const w of state.cine.info.warnings) list.push(w.message);
  if (m) for (const w of m.warnings) if (!list.includes(w.message)) list.push(w.message);
  byId("notes").replaceChildren(...list.map((text) => h("p", { class: "note" }, visible(text))));
}

function showMeasurement() {
  const m = state.measurement;
  byId("drawing").replaceChildren(...(m ? [drawn(m)] : []));
  byId("drawing").hidden = !m;
  byId("curves-card").hidden = !m;
  byId("curves").replaceChildren(...(m && byId("curves-card").open ? curves(m) : []));
  showNotes();
  film.draw();
}

function refresh() {
  showPrompt();
  showStanding();
  keep();
}

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

function ask() {
  const worth = state.measurement || (state.caseDoc && (state.caseDoc.anatomy || state.caseDoc.measurements));
  askAll(state.about, worth ? currentDocument() : null);
}

function drawCase() {
  state.caseDoc = state.caseDoc || { schema: "branchkeep.case/1" };
  drawForm(state.caseDoc, () => { state.unsaved = true; refresh(); ask(); }).catch(fail);
}

async function save() {
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

async function openCase(id) {
  try {
    alarm("");
    const doc = await get(`/api/cases/${encodeURIComponent(id)}`);
    const list = doc.measurements || [], at = list.length - 1, m = list[at];
    Object.assign(state, { caseDoc: doc, basedOn: doc.revision, measurementAt: at, unsaved: false, measurement: null, clicks: [null, null, null], trouble: null });
    drawCase();
    if (m) await openMeasured(m);
    else { refresh(); ask(); }
  } catch (error) { fail(error); }
}

// A kept measurement is shown as it was kept; its film, when it is kept here too.
async function openMeasured(m) {
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
  showMeasurement();
  refresh();
  ask();
}

// ---- the film ----

async function loadCine(id, frame) {
  const info = await get(`/api/cines/${id}`);
  state.cine = { id, info };
  byId("empty").textContent = "";
  byId("frame").max = info.frames;
  film.openFilm(state.cine);
  showWindow();
  await film.showFrame(Math.min(info.frames, Math.max(1, frame)));
}

async function openCine(id) {
  try {
    alarm("");
    busy = "";
    Object.assign(state, { measurement: null, clicks: [null, null, null], stale: false, trouble: null, measurementAt: -1 });
    await loadCine(id, 1);
    showMeasurement();
    refresh();
  } catch (error) { fail(error); }
}

async function bestFrame() {
  if (!state.cine) return;
  try {
    busy = "Looking for the best frame …";
    showPrompt();
    const pick = await get(`/api/cines/${state.cine.id}/pick`);
    busy = "";
    await film.showFrame(pick.frames[0].frame);
    refresh();
  } catch (error) { fail(error); }
}

// Brightness and contrast as sliders of 0 to 100 around the window the file was opened with.
function showWindow() {
  byId("brightness").value = byId("contrast").value = 50;
}
function slideWindow() {
  if (!state.cine) return;
  const { low, high } = state.cine.info.display, span = high - low;
  const wide = span * Math.pow(4, (50 - byId("contrast").value) / 50), middle = (low + high) / 2 + ((50 - byId("brightness").value) / 50) * span;
  film.setWindow(middle - wide / 2, middle + wide / 2);
}

// ---- measuring ----

async function measure() {
  if (nextLimb() >= 0 || !state.cine) return;
  if (measuring) measuring.abort();
  const own = measuring = new AbortController();
  const points = Object.fromEntries(LIMBS.map((limb, i) => [limb, [state.clicks[i].x, state.clicks[i].y]]));
  const stage = state.measurementAt >= 0 && state.measurement ? state.measurement.stage : "baseline";
  try {
    const m = await post("/api/measure", { cine: state.cine.id, frame: state.frame, ...points, ...scaleRequest(), stage }, own.signal);
    if (own !== measuring) return;
    Object.assign(state, { measurement: m, stale: false, trouble: null, unsaved: true });
  } catch (error) {
    if (error.name === "AbortError" || own !== measuring) return;
    if (!(error instanceof Refused) || error.code === 401) { fail(error); return; }
    Object.assign(state, { measurement: null, stale: false, trouble: error.message });
  }
  alarm("");
  showMeasurement();
  refresh();
  ask();
}

function measureSoon() {
  clearTimeout(resting);
  resting = setTimeout(measure, REST_MS);
}

function place(p) {
  const at = nextLimb();
  if (takesClicks()) {
    state.scale.catheter = [...(state.scale.catheter || []), p];
    drawScale(scaleChanged);
    scaleChanged();
    return;
  }
  if (at < 0) return;
  if (state.measurement) state.measurement = null;
  state.clicks[at] = p;
  film.draw();
  refresh();
  if (nextLimb() < 0) measure();
}

function move(i, p, last) {
  state.clicks[i] = p;
  state.stale = true;
  film.draw();
  if (!last) return;
  refresh();
  if (nextLimb() < 0) measureSoon();
}

function undo(all) {
  const last = state.clicks.reduce((found, p, i) => (p ? i : found), -1);
  if (last < 0) return;
  if (measuring) measuring.abort();
  state.clicks = all ? [null, null, null] : state.clicks.map((p, i) => (i === last ? null : p));
  Object.assign(state, { measurement: null, stale: false, trouble: null });
  showMeasurement();
  refresh();
}

function scaleChanged() {
  refresh();
  if (nextLimb() < 0) measure();
}

function newCase() {
  if (state.unsaved && !confirm("What is not saved will be dropped. Begin a new case?")) return;
  Object.assign(state, { measurement: null, clicks: [null, null, null], stale: false, trouble: null, caseDoc: null, basedOn: 0, measurementAt: -1, unsaved: false, scale: { way: "file", catheter: [], filled: "unknown" } });
  drawScale(scaleChanged);
  drawCase();
  showMeasurement();
  refresh();
  ask();
}

// ---- the server's own news ----

function listenToServer() {
  const source = new EventSource("/api/events");
  let lost = false;
  source.addEventListener("hello", () => { if (lost) alarm(""); lost = false; });
  source.addEventListener("case", (event) => {
    const { case_id, revision } = JSON.parse(event.data);
    if (state.caseDoc && state.caseDoc.case_id === case_id && revision > state.basedOn) byId("standing").textContent += ` · revision ${revision} was saved elsewhere`;
  });
  source.onerror = () => {
    lost = true;
    if (source.readyState === EventSource.CLOSED) get("/api/about").then(() => setTimeout(listenToServer, 1000), fail);
    else alarm("The server does not answer; trying again. Points that were set are kept in this tab.");
  };
}

// ---- start ----

function connect() {
  film.listen({
    place, move, trouble: fail,
    frame: (k) => {
      byId("frame").value = k;
      byId("frame-text").textContent = state.cine ? `${k} / ${state.cine.info.frames}` : "–";
      byId("play").textContent = film.isPlaying() ? "Pause" : "Play";
      byId("play").setAttribute("aria-pressed", String(film.isPlaying()));
      showPrompt();
    },
    window: (was, dx, dy) => {
      const span = was.high - was.low, wide = span * Math.exp(-dx / 300), middle = (was.low + was.high) / 2 + (dy / 300) * span;
      film.setWindow(middle - wide / 2, middle + wide / 2);
    },
  });
  const on = { cine: openCine, case: openCase, fail, busy: (text) => { busy = text; showPrompt(); } };
  byId("open").onclick = () => showShelf(on).catch(fail);
  byId("fresh").onclick = newCase;
  byId("save").onclick = save;
  byId("undo").onclick = () => undo(false);
  byId("restart").onclick = () => undo(true);
  byId("play").onclick = film.toggle;
  byId("best").onclick = bestFrame;
  byId("fit").onclick = film.fit;
  byId("outlines").onchange = film.draw;
  byId("frame").oninput = (e) => film.showFrame(Number(e.target.value));
  byId("frame").onchange = keep;
  byId("brightness").oninput = byId("contrast").oninput = slideWindow;
  byId("curves-card").ontoggle = () => showMeasurement();
  const box = byId("film");
  box.addEventListener("dragover", (e) => { e.preventDefault(); box.classList.add("dropping"); });
  box.addEventListener("dragleave", () => box.classList.remove("dropping"));
  box.addEventListener("drop", (e) => {
    e.preventDefault();
    box.classList.remove("dropping");
    if (e.dataTransfer.files.length) takeFile(e.dataTransfer.files[0], on);
  });
  document.addEventListener("keydown", (e) => {
    if ((e.ctrlKey || e.metaKey) && e.key === "z" && !(e.target instanceof HTMLInputElement)) { e.preventDefault(); undo(false); }
    if ((e.ctrlKey || e.metaKey) && e.key === "s") { e.preventDefault(); if (!byId("save").disabled) save(); }
  });
  addEventListener("beforeunload", keep);
}

// Do the points stand where this was measured? Documents carry them rounded.
function samePoints(m, clicks) {
  const near = (a, b) => Math.abs(a - b) < 0.01;
  return LIMBS.every((limb, i) => clicks[i] && m.clicks_px && near(m.clicks_px[limb][0], clicks[i].x) && near(m.clicks_px[limb][1], clicks[i].y));
}

// After a reload: the same film, frame, points and document; what was measured is measured again.
async function restore(old) {
  if (!old) return;
  Object.assign(state, { clicks: old.clicks, scale: old.scale, caseDoc: old.caseDoc, basedOn: old.basedOn, measurementAt: old.measurementAt, unsaved: old.unsaved });
  if (!old.cine) return;
  const list = (old.caseDoc && old.caseDoc.measurements) || [], m = list[old.measurementAt];
  if (m && !old.unsaved && samePoints(m, old.clicks)) { await openMeasured(m); return; }
  await loadCine(old.cine, old.frame);
  showMeasurement();
  const { unsaved } = old;
  await measure();
  state.unsaved = unsaved || state.unsaved;
}

async function start() {
  connect();
  showMeasurement();
  showPrompt();
  byId("empty").textContent = "Open a cine, or drop a DICOM file here.\n\nWheel and arrow keys: frames · Ctrl and wheel: zoom · drag: pan\nShift and drag: brightness and contrast";
  try {
    await enter();
    state.about = await get("/api/about");
    byId("caution").textContent = state.about.caution;
    makeCards(state.about.topics);
    listenToServer();
    const old = kept();
    await restore(old);
    drawCase();
    drawScale(scaleChanged);
    refresh();
  } catch (error) { fail(error); }
  document.documentElement.dataset.ready = "yes";
}

start();
