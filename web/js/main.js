/* SPDX-License-Identifier: GPL-3.0-or-later */
// Joins the parts: what happens when.
import { enter, get } from "./api.js";
import { makeCards } from "./cards.js";
import { showShelf, takeFile } from "./cases.js";
import { byId } from "./dom.js";
import { listenForEmergencies } from "./emergencies.js";
import * as film from "./film.js";
import { drawInputs, measure, moved, place, putDown, takeTool, undo } from "./measuring.js";
import { ask, drawCase, loadCine, newCase, openCase, openCine, openMeasured, save } from "./opening.js";
import { nothingSaid } from "./say.js";
import { alarm, fail, refresh, setBusy, showMeasurement, showPrompt } from "./show.js";
import { keep, kept, state } from "./state.js";
import { tool, trace } from "./tools.js";
import { LIMBS } from "./words.js";

// ---- the film ----

async function bestFrame() {
  if (!state.cine) return;
  try {
    setBusy("Looking for the best frame …");
    const pick = await get(`/api/cines/${state.cine.id}/pick`);
    setBusy("");
    await film.showFrame(pick.frames[0].frame);
    refresh();
  } catch (error) { fail(error); }
}

// Brightness and contrast as sliders of 0 to 100 around the window the file was opened with.
function slideWindow() {
  if (!state.cine) return;
  const { low, high } = state.cine.info.display, span = high - low;
  const wide = span * Math.pow(4, (50 - byId("contrast").value) / 50), middle = (low + high) / 2 + ((50 - byId("brightness").value) / 50) * span;
  film.setWindow(middle - wide / 2, middle + wide / 2);
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
    place, trouble: fail, use: takeTool, drawing: () => Boolean(tool.name),
    move: (i, p, how) => { state.clicks[i] = p; moved(how); },
    moveWay: (way, p, how) => { way.x_px = Math.round(100 * p.x) / 100; way.y_px = Math.round(100 * p.y) / 100; if (how !== "dragged") drawInputs(); moved(how); },
    stroke: (p, last) => { trace(p); if (last) putDown(); else film.draw(); },
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
  const on = { cine: openCine, case: openCase, fail, busy: setBusy };
  byId("open").onclick = () => showShelf(on).catch(fail);
  byId("fresh").onclick = newCase;
  byId("save").onclick = save;
  byId("done").onclick = putDown;
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
  Object.assign(state, { clicks: old.clicks, scale: old.scale, say: old.say || nothingSaid(), caseDoc: old.caseDoc, basedOn: old.basedOn, measurementAt: old.measurementAt, unsaved: old.unsaved });
  if (!old.cine) { ask(); return; }
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
    listenForEmergencies(state.about.emergencies);
    listenToServer();
    const old = kept();
    await restore(old);
    drawCase();
    drawInputs();
    refresh();
  } catch (error) { fail(error); }
  document.documentElement.dataset.ready = "yes";
}

start();
