/* SPDX-License-Identifier: GPL-3.0-or-later */
// The card of the procedure while it runs: the state first, then at most one alert, then single keys. What it says is the server's.
import { Refused, post } from "./api.js";
import { standing, words } from "./card_parts.js";
import { byId, h, visible } from "./dom.js";

// h is taken: it opens the emergency cards wherever the focus is.
// key, words on the button, event, and the numbers it takes from the fields below: key of the event and field
const KEYS = /** @type {[string, string, any, any?][]} */ ([
  ["w", "wire side", { event: "wire_in", limb: "side" }], ["m", "wire main", { event: "wire_in", limb: "main" }],
  ["b", "balloon side", { event: "balloon", limb: "side" }], ["n", "balloon main", { event: "balloon", limb: "main" }, { diameter_mm: "mm" }],
  ["s", "stent main", { event: "stent", limb: "main" }, { diameter_mm: "mm" }], ["d", "stent side", { event: "stent", limb: "side" }, { diameter_mm: "mm" }],
  ["p", "POT", { event: "pot" }, { diameter_mm: "mm" }], ["x", "kissing", { event: "kissing" }, { main_mm: "mm", side_mm: "side mm" }],
  ["v", "down", { event: "deflated" }], ["c", "re-crossing", { event: "recross_start", limb: "side" }], ["r", "re-crossed", { event: "recross", limb: "side" }],
  ["o", "wire out", { event: "wire_out", limb: "side" }], ["k", "kit ready", { event: "kit_ready" }],
  ["0", "TIMI 0", { event: "timi", limb: "side", grade: 0 }], ["1", "TIMI 1", { event: "timi", limb: "side", grade: 1 }],
  ["2", "TIMI 2", { event: "timi", limb: "side", grade: 2 }], ["3", "TIMI 3", { event: "timi", limb: "side", grade: 3 }],
  ["l", "contrast", { event: "contrast" }, { ml: "mL" }], ["g", "air kerma", { event: "dose" }, { air_kerma_gy: "Gy" }],
  ["a", "ACT", { event: "act" }, { s: "s" }], ["j", "heparin", { event: "heparin" }, { units: "U" }],
  ["e", "main done", { event: "main_done" }], ["f", "side done", { event: "side_done" }],
]);
const FIELDS = [["mm", "balloon or stent in mm"], ["side mm", "balloon in the side branch in mm"], ["mL", "contrast in mL"], ["Gy", "air kerma in Gy"], ["s", "ACT in seconds"], ["U", "heparin in units"]];

let doc = null, kept = null, failed = "", timer = 0, typed = /** @type {Record<string, string>} */ ({});

const now = () => `${new Date().toISOString().slice(0, 19)}Z`;

async function ask(action, entry) {
  return post("/api/log", { document: doc, action, entry, at: now() });
}

/** @param {any} entry @param {string[]} [taken] fields whose numbers it took */
async function add(entry, taken) {
  try {
    failed = "";
    const view = await ask("add", entry);
    for (const field of taken || []) delete typed[field];
    doc.log = view.log;
    draw(view);
    kept(doc.log);
  } catch (error) {
    failed = error instanceof Refused ? visible(error.message) : "the server did not answer: nothing was logged";
    show();
  }
}

// What was typed stays when the card is drawn anew, until an event took it.
function number([field, name]) {
  return h("input", { type: "number", step: "any", min: 0, "data-field": field, "aria-label": name, placeholder: field, value: typed[field] ?? "", oninput: (e) => { typed[field] = e.target.value; } });
}

/** @param {[string, string, any, any?]} key */
function press([, , event, numbers]) {
  const entry = { ...event };
  for (const [key, field] of Object.entries(numbers || {})) {
    const input = byId("live-body").querySelector(`[data-field="${field}"]`);
    if (input.value === "") { input.focus(); return; }
    entry[key] = Number(input.value);
  }
  add(entry, Object.values(numbers || {}));
}

function side(wires) {
  const parts = [["free", "beside nothing"], ["jailed", "behind struts"], ["through", "through a cell"]].filter(([k]) => wires.side[k]).map(([k, text]) => `${wires.side[k]} ${text}`);
  return parts.length ? parts.join(", ") : "none";
}

function figure(name, value, unit, pct) {
  return h("div", { class: "figure" }, h("b", {}, value === null ? "–" : `${value}`), h("span", {}, value === null ? "" : unit), h("small", {}, name, pct === null || pct === undefined ? "" : ` · ${pct} %`));
}

function stateRows(s) {
  const t = s.totals;
  return [
    h("dl", { class: "state" },
      h("dt", {}, "wires in the side branch"), h("dd", {}, side(s.wires)), h("dt", {}, "in the main vessel"), h("dd", {}, `${s.wires.main}${s.wires.main_jailed ? `, ${s.wires.main_jailed} behind struts` : ""}`),
      h("dt", {}, "stents"), h("dd", {}, `main ${s.main_stents}, side ${s.side_stents}`), h("dt", {}, "still to come in the main vessel"), h("dd", {}, visible(s.main_inflations_to_come)),
      h("dt", {}, "side branch TIMI"), h("dd", {}, s.timi.side === null ? "not said" : `${s.timi.side}${s.side_closed_min === null ? "" : `, closed for ${s.side_closed_min} min so far`}`)),
    h("div", { class: "figures" }, figure("contrast", t.contrast_ml, "mL", t.contrast_pct), figure("air kerma", t.air_kerma_gy, "Gy", t.dose_pct), figure("since the ACT", t.act_minutes, "min", t.act_pct), figure("since the last entry", s.minutes_since_last, "min", null)),
  ];
}

function alert(view) {
  const a = view.alert;
  if (!a) return h("p", { class: "quiet" }, view.quiet ? `quiet during ${view.quiet}` : "nothing to say");
  return h("div", { class: "alert", role: "status" }, h("b", {}, visible(a.name)), h("p", {}, visible(a.text), a.to_come ? ` To come: ${visible(a.to_come)}.` : "", a.balloon_mm ? ` ${a.balloon_mm} mm in a stent of ${a.stent_mm} mm.` : ""), standing(a.standing),
    h("button", { type: "button", onclick: () => { const text = prompt("Why is this not to be shown again?"); if (text) add({ event: "silence", alert: a.id, text: text.slice(0, 190) }); } }, "not again …"));
}

function entryText(e) {
  return `${e.entry}. ${words(e.event || "?")} ${Object.entries(e).filter(([k]) => !["entry", "event", "at", "undone", "unreadable"].includes(k)).map(([k, v]) => `${words(k)} ${visible(v)}`).join(", ")}`;
}

function draw(view) {
  const body = byId("live-body"), last = view.entries.filter((e) => !e.undone && e.event !== "undo").at(-1);
  const had = body.contains(document.activeElement) && document.activeElement.tagName !== "INPUT";
  body.className = "body";
  body.replaceChildren(...[
    failed ? h("p", { class: "held" }, failed) : null, stateRows(view.state), alert(view),
    view.waiting.length ? h("p", { class: "quiet" }, `waiting: ${view.waiting.map(words).join(", ")}`) : null,
    view.silenced.map((x) => h("p", { class: "quiet" }, `silenced: ${words(x.id)}, “${visible(x.reason)}”`)),
    h("div", { class: "keys" }, KEYS.map((k) => h("button", { type: "button", "data-key": k[0], onclick: () => press(k) }, h("kbd", {}, k[0]), k[1])),
      h("button", { type: "button", "data-key": "u", disabled: !last, onclick: () => last && add({ event: "undo", n: last.entry }) }, h("kbd", {}, "u"), last ? `undo ${last.entry}` : "undo")),
    h("div", { class: "numbers" }, FIELDS.map(number)),
    h("details", {}, h("summary", {}, `Log (${view.entries.length})`), h("ol", { class: "log" }, view.entries.map((e) => h("li", { class: e.undone ? "undone" : null }, h("time", {}, visible(e.at || "").slice(11, 16)), " ", entryText(e), e.undone ? " (undone)" : "", e.unreadable ? h("span", { class: "held" }, visible(e.unreadable)) : null)))),
    view.missing.length ? h("details", {}, h("summary", {}, `Missing (${view.missing.length})`), h("ul", {}, view.missing.map((m) => h("li", {}, `${m.name}: ${visible(m.why)}`)))) : null,
    h("p", { class: "quiet" }, visible(view.cautions.at(-1))),
  ].flat(Infinity).filter(Boolean));
  if (had) body.focus(); // keys go on working
}

async function show() {
  if (!doc) return;
  try { draw(await ask("show")); } catch (error) {
    const body = byId("live-body");
    body.className = "body held";
    body.replaceChildren(error instanceof Refused ? visible(error.message) : "the server did not answer");
  }
}

/** The log of this case. @param {any} document_ a case, or null @param {(log: any[]) => void} keepIt puts the entries into the case and saves it */
export function showLive(document_, keepIt) {
  doc = document_ && structuredClone(document_);
  kept = keepIt;
  failed = "";
  if (!doc) typed = {};
  clearInterval(timer);
  if (!doc) { byId("live-body").className = "body quiet"; byId("live-body").replaceChildren("needs a case"); return; }
  timer = setInterval(() => { if (!byId("live-body").contains(document.activeElement) || document.activeElement.tagName !== "INPUT") show(); }, 30000); // the minutes go on
  show();
}

// Single keys, while the card has the focus and nothing is typed.
byId("live-card").addEventListener("keydown", (e) => {
  if (e.target instanceof HTMLInputElement || e.ctrlKey || e.metaKey || e.altKey) return;
  const button = byId("live-body").querySelector(`[data-key="${CSS.escape(e.key)}"]`);
  if (!button || button.disabled) return;
  e.preventDefault();
  button.click();
});
