/* SPDX-License-Identifier: GPL-3.0-or-later */
// "If it goes wrong": short cards by one key. They come with the page when it starts, so nothing is asked for when they are needed.
import { standing } from "./card_parts.js";
import { byId, h, visible } from "./dom.js";

export const KEY = "h";
let cards = [];

function show(at) {
  const card = cards[at];
  const buttons = cards.map((c, i) => h("button", { type: "button", "aria-pressed": String(i === at), onclick: () => show(i) }, h("kbd", {}, i + 1), ` ${visible(c.name)}`));
  byId("emergency").replaceChildren(
    h("h2", { id: "emergency-title" }, "If it goes wrong"),
    h("div", { class: "emergency" }, h("div", { class: "choices" }, buttons),
      card ? h("section", { "aria-live": "polite" }, h("h3", {}, visible(card.name)), h("ol", {}, card.lines.map((l) => h("li", {}, visible(l.text), " ", standing(l.standing)))))
        : h("p", { class: "quiet" }, `Press 1 to ${cards.length}. Escape closes.`)),
    h("p", { class: "caution" }, "Short reminders, editable by the lab; local protocols and the operator decide. Drugs: check local label."));
  if (at >= 0) buttons[at].focus();
}

export function openEmergencies() {
  const dialog = byId("emergency");
  show(-1);
  if (!dialog.open) dialog.showModal();
}

const typing = (target) => target instanceof HTMLInputElement && target.type !== "range" && target.type !== "checkbox" || target instanceof HTMLSelectElement || target instanceof HTMLTextAreaElement;

function pressed(event) {
  const dialog = byId("emergency"), { key } = event;
  if (event.ctrlKey || event.metaKey || event.altKey || typing(event.target)) return;
  if (dialog.open) {
    const at = Number(key) - 1;
    if (at >= 0 && at < cards.length) { event.preventDefault(); show(at); }
  } else if (key.toLowerCase() === KEY && !document.querySelector("dialog[open]")) {
    event.preventDefault();
    openEmergencies();
  }
}

/** @param {any[]} list of /api/about */
export function listenForEmergencies(list) {
  cards = list || [];
  byId("wrong").hidden = !cards.length;
  byId("wrong").onclick = openEmergencies;
  document.addEventListener("keydown", pressed);
}
