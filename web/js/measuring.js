/* SPDX-License-Identifier: GPL-3.0-or-later */
// Points, corrections and scale as they are set, and the measurement they lead to.
import { Refused, post } from "./api.js";
import { byId } from "./dom.js";
import * as film from "./film.js";
import { ask } from "./opening.js";
import { drawSay, nothingSaid, sayRequest, takeBack } from "./say.js";
import { drawScale, noScale, scaleRequest, takesClicks } from "./scale.js";
import { alarm, fail, refresh, showMeasurement } from "./show.js";
import { nextLimb, state } from "./state.js";
import { corner, finishTool, tool, toolNeeds, useTool } from "./tools.js";
import { LIMBS } from "./words.js";

const REST_MS = 250; // after a point was moved by key, before it is measured again

let measuring = null, resting = 0;

// Points, scale and corrections stand for places of one film.
export function unmeasured() {
  return { measurement: null, clicks: [null, null, null], stale: false, trouble: null, say: nothingSaid(), scale: noScale() };
}

export async function measure() {
  if (nextLimb() >= 0 || !state.cine) return;
  if (measuring) measuring.abort();
  const own = measuring = new AbortController();
  const points = Object.fromEntries(LIMBS.map((limb, i) => [limb, [state.clicks[i].x, state.clicks[i].y]]));
  try {
    const m = await post("/api/measure", { cine: state.cine.id, frame: state.frame, ...points, ...scaleRequest(), ...sayRequest() }, own.signal);
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

// What was said or drawn has changed.
function saidAnew() {
  state.stale = Boolean(state.measurement);
  film.draw();
  refresh();
  measure();
}

export function drawInputs() {
  drawSay(saidAnew, takeTool);
  drawScale(scaleChanged);
}

/** @param {string} name "": put the tool down */
export function takeTool(name, limb = "") {
  const needs = name && toolNeeds(name);
  useTool(needs ? "" : name, limb);
  byId("film").classList.toggle("drawing-on", Boolean(tool.name));
  film.draw();
  refresh();
  alarm(needs || "");
  if (tool.name) byId("film").focus({ preventScroll: true });
}

export function putDown() {
  const why = finishTool();
  byId("film").classList.remove("drawing-on");
  alarm(why);
  if (why) { film.draw(); refresh(); return; }
  drawInputs();
  saidAnew();
}

export function place(p, way) {
  const at = nextLimb();
  if (way && at < 0 && !tool.name) useTool("via", "");
  if (tool.name) {
    if (corner(p)) putDown();
    else { film.draw(); refresh(); }
    return;
  }
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

/** @param {"dragged" | "dropped" | "stepped"} how */
export function moved(how) {
  state.stale = true;
  film.draw();
  if (how === "dragged") return;
  refresh();
  clearTimeout(resting);
  if (how === "dropped") measure();
  else resting = setTimeout(measure, REST_MS);
}

export function undo(all) {
  if (tool.name) { takeTool(""); return; }
  if (!all && takeBack()) {
    drawInputs();
    saidAnew();
    return;
  }
  const last = state.clicks.reduce((found, p, i) => (p ? i : found), -1);
  if (last < 0) return;
  if (measuring) measuring.abort();
  state.clicks = all ? [null, null, null] : state.clicks.map((p, i) => (i === last ? null : p));
  Object.assign(state, { measurement: null, stale: false, trouble: null });
  if (all) state.say.corrections = {}; // they belong to what was measured from these points
  drawInputs();
  showMeasurement();
  refresh();
}

export function scaleChanged() {
  refresh();
  if (nextLimb() < 0) measure();
}

