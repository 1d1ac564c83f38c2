/* SPDX-License-Identifier: GPL-3.0-or-later */
// One card for each topic that can be asked. Topics with a form of their own have it in FORMS; any other is laid out as the
// answer holds it, so a new topic needs nothing here.
import { post, Refused } from "./api.js";
import { devicesCard } from "./card_devices.js";
import { budgetCard } from "./card_budget.js";
import { flowCard, territoryCard } from "./card_flow.js";
import { indicationCard } from "./card_indication.js";
import { injuryCard } from "./card_injury.js";
import { protectCard } from "./card_protect.js";
import { pauseCard, resultCard } from "./card_result.js";
import { riskCard } from "./card_risk.js";
import { stepsCard } from "./card_steps.js";
import { strategiesCard } from "./card_strategies.js";
import { byId, h, visible } from "./dom.js";
import { label } from "./words.js";

const FORMS = { devices: devicesCard, indication: indicationCard, flow: flowCard, territory: territoryCard, protect: protectCard, risk: riskCard, steps: stepsCard, strategies: strategiesCard, budget: budgetCard, injury: injuryCard, result: resultCard, pause: pauseCard };
const FRAME = new Set(["schema", "topic", "engine", "inputs", "missing", "sources", "cautions", "what_if"]);
const HEADS = ["use", "name", "do", "id", "trigger", "moment", "definition"];
const LONG = 34;

let asking = null;

function plain(value) {
  if (value === null || value === undefined) return "cannot say";
  if (typeof value === "boolean") return value ? "yes" : "no";
  if (typeof value !== "object") return visible(value);
  if (typeof value.low === "number" || typeof value.high === "number") {
    const level = value.level_pct ? ` (${value.level_pct} %)` : "", best = typeof value.value === "number" ? `${value.value}, ` : "";
    return `${best}${value.low} to ${value.high}${level}`;
  }
  if ("value" in value) return `${plain(value.value)}${typeof value.sd === "number" ? ` ± ${value.sd}` : ""}`;
  return null;
}

function entry(key, value) {
  const text = plain(value);
  if (text !== null) return [h("dt", {}, label(key)), h("dd", { class: text === "cannot say" ? "held" : null }, text)];
  if (Array.isArray(value) && !value.length) return [];
  if (Array.isArray(value) && value.every((v) => typeof v !== "object")) return [h("dt", {}, label(key)), h("dd", {}, value.map(visible).join(", "))];
  return [h("dt", {}, label(key)), h("dd", {}, shown(value))];
}

function item(object) {
  if (typeof object !== "object" || object === null) return h("div", { class: "item" }, plain(object));
  const keys = Object.keys(object), head = HEADS.find((k) => typeof object[k] === "string");
  const rest = keys.filter((k) => k !== head), short = [], long = [], deep = [];
  for (const k of rest) {
    const text = plain(object[k]);
    if (text === null) deep.push(k);
    else if (object[k] === null || object[k] === "") continue; // said below, in one line
    else (text.length > LONG ? long : short).push(k);
  }
  const unsaid = rest.filter((k) => object[k] === null && k !== "hold");
  return h("div", { class: "item" },
    h("div", { class: "head" }, head ? h("b", {}, visible(object[head]).replaceAll("_", " ")) : null,
      short.map((k) => h("span", {}, h("span", { class: "quiet" }, `${label(k)} `), plain(object[k])))),
    long.map((k) => h("p", { class: k === "hold" ? "held" : null }, k === "hold" ? "held back: " : "", plain(object[k]))),
    unsaid.length ? h("p", {}, `cannot say: ${unsaid.map(label).join(", ")}`) : null,
    deep.some((k) => Object.keys(object[k]).length) ? h("details", {}, h("summary", {}, "more"), h("dl", {}, deep.map((k) => entry(k, object[k])))) : null);
}

function shown(value) {
  if (Array.isArray(value)) return h("div", {}, value.map(item));
  return h("dl", {}, Object.keys(value).map((k) => entry(k, value[k])));
}

function list(title, rows, open) {
  if (!rows || !rows.length) return null;
  return h("details", { open }, h("summary", {}, `${title} (${rows.length})`), h("ul", {}, rows.map((r) => h("li", {}, r))));
}

function answerParts(answer, about, document_) {
  const keys = Object.keys(answer).filter((k) => !FRAME.has(k)), form = FORMS[answer.topic];
  return [
    (answer.cautions || []).filter((c) => c !== about.caution).map((c) => h("p", { class: "note" }, visible(c))),
    form ? form(answer, document_, (body) => post(`/api/ask/${answer.topic}`, body)) : keys.map((k) => (Array.isArray(answer[k]) ? [h("h3", {}, label(k)), shown(answer[k])] : h("dl", {}, entry(k, answer[k])))),
    list("Missing", (answer.missing || []).map((m) => `${m.name}: ${visible(m.why)}`), (answer.missing || []).length <= 2), // one or two are what stands in the way
    list("Inputs used", (answer.inputs || []).map((i) =>
      `${i.name}: ${plain(i.value)}${typeof i.sd === "number" ? ` ± ${i.sd}` : ""} ${i.unit || ""} (${i.origin}${i.from ? `, ${i.from}` : ""})`), false),
    list("Sources", (answer.sources || []).map((r) =>
      [`${visible(r.text)} `, r.doi ? `doi ${visible(r.doi)} ` : "", h("b", {}, `standing: ${r.standing}`), r.edition ? ` · ${visible(r.edition)}` : ""]), false),
  ].flat(Infinity);
}

/** Make the cards, once it is known what can be asked. @param {string[]} topics */
export function makeCards(topics) {
  byId("cards").replaceChildren(...topics.map((topic) => h("details", { class: "card", id: `card-${topic}`, open: true },
    h("summary", {}, topic[0].toUpperCase() + topic.slice(1)), h("div", { class: "body quiet" }, "needs a measurement, or numbers entered below"))));
}

/** Ask everything of this case. @param {{topics: string[], caution: string}} about @param {any} document_ */
export async function askAll(about, document_) {
  if (asking) asking.abort();
  const own = asking = new AbortController();
  for (const topic of about.topics) {
    const body = byId(`card-${topic}`).querySelector(".body");
    if (!document_) { body.className = "body quiet"; body.replaceChildren("needs a measurement"); continue; }
    try {
      const answer = await post(`/api/ask/${topic}`, document_, own.signal);
      body.className = "body";
      body.replaceChildren(...answerParts(answer, about, document_).filter(Boolean));
    } catch (error) {
      if (error.name === "AbortError") return;
      body.className = "body held";
      body.replaceChildren(error instanceof Refused ? visible(error.message) : "the server did not answer");
    }
  }
}
