/* SPDX-License-Identifier: GPL-3.0-or-later */
// Shows what the page holds: what to do next, what is wrong, the measurement. Changes nothing.
import { Refused } from "./api.js";
import { curves } from "./curves.js";
import { byId, h, visible } from "./dom.js";
import { drawn } from "./drawing.js";
import * as film from "./film.js";
import { takesClicks } from "./scale.js";
import { keep, nextLimb, state } from "./state.js";
import { tool, toolWords } from "./tools.js";
import { LIMBS, LIMB_NAMES, angleName } from "./words.js";

let busy = "";

/** @param {string} text what takes a while; "": nothing */
export function setBusy(text) {
  busy = text;
  showPrompt();
}

export function alarm(text) {
  byId("alarm").hidden = !text;
  byId("alarm").textContent = text || "";
}

export function fail(error) {
  if (error.name === "AbortError") return;
  busy = "";
  if (error instanceof Refused && error.code === 401) alarm("This page has no session with the server. Open the address that branchkeep serve printed; points that were set are kept in this tab.");
  else alarm(error instanceof Refused ? visible(error.message) : `The server does not answer (${visible(error.message)}). Points that were set are kept in this tab.`);
  showPrompt();
}

export function showPrompt() {
  const at = nextLimb(), prompt = byId("prompt");
  const say = (...parts) => prompt.replaceChildren(...parts);
  byId("undo").disabled = state.clicks.every((p) => p === null) && !tool.name;
  byId("restart").disabled = state.clicks.every((p) => p === null);
  byId("save").disabled = !state.unsaved || !(state.measurement || state.caseDoc);
  for (const button of document.querySelectorAll("[data-tool]")) button.setAttribute("aria-pressed", String(button.getAttribute("data-tool") === tool.name));
  byId("done").hidden = tool.name !== "edge" || tool.points.length < 2;
  if (busy) say(busy);
  else if (!state.cine) say("Open a cine to begin.");
  else if (tool.name) say(toolWords());
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

export function showMeasurement() {
  const m = state.measurement;
  byId("drawing").replaceChildren(...(m ? [drawn(m)] : []));
  byId("drawing").hidden = !m;
  byId("curves-card").hidden = !m;
  byId("curves").replaceChildren(...(m && byId("curves-card").open ? curves(m) : []));
  showNotes();
  film.draw();
}

export function refresh() {
  showPrompt();
  showStanding();
  keep();
}
