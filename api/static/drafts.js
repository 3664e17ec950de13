// What is half typed survives a reload: kept on this device for each job and field until it is sent.
// In local storage, because that is written before the key stroke is over.
// @ts-check

import { unfold } from "/static/hands.js";

/** @typedef {HTMLInputElement | HTMLTextAreaElement | HTMLSelectElement} Field */
/** @typedef {{now: string, was: string, at: number}} Draft */

const mine = `draft ${document.documentElement.dataset.person ?? ""} `;
const KEPT = 14 * 86400e3; // a draft that nobody came back to
const ticked = (/** @type {Field} */ one) => one.matches("[type=checkbox], [type=radio]");
const fields = "form[data-event] :is(textarea, select, input:not([type=hidden], [type=file], [type=password], [type=search]))";

/** @param {Field} one */
const now = (one) => (ticked(one) ? String(/** @type {HTMLInputElement} */ (one).checked) : one.value);
/** As the server made it.
 * @param {Field} one */
function was(one) {
  if (one instanceof HTMLSelectElement) return ([...one.options].find((row) => row.defaultSelected) ?? one.options[0])?.value ?? "";
  return ticked(one) ? String(/** @type {HTMLInputElement} */ (one).defaultChecked) : one.defaultValue;
}

/** The job, the form by what it says without being asked, and the field.
 * @param {Field} one */
function key(one) {
  const form = /** @type {HTMLFormElement} */ (one.form);
  const said = [...new FormData(form)].filter(([name]) => form.querySelector(`input[type=hidden][name="${name}"]`));
  const fixed = said.filter(([name]) => !["event", "device_time", "version", "step", "back"].includes(name)).join(" ");
  return `${mine}${new URL(form.action).pathname} ${fixed} ${one.name}${ticked(one) ? `=${one.value}` : ""}`;
}

/** @param {Field} one */
function keep(one) {
  if (!one.name || !one.form) return;
  const draft = { now: now(one), was: was(one), at: Date.now() };
  if (draft.now === draft.was) localStorage.removeItem(key(one));
  else localStorage.setItem(key(one), JSON.stringify(draft));
}

/** @param {Field} one */
function restore(one) {
  const text = localStorage.getItem(key(one)), draft = /** @type {Draft | null} */ (text && JSON.parse(text));
  if (!draft || draft.now === now(one)) return;
  const changed = draft.was !== was(one); // somebody else wrote it down meanwhile: shown, not put over it
  if (!changed && ticked(one)) /** @type {HTMLInputElement} */ (one).checked = draft.now === "true";
  else if (!changed) one.value = draft.now;
  unfold(one);
  if (ticked(one)) return;
  const line = Object.assign(document.createElement("p"), { className: "field-note", id: `draft-${crypto.getRandomValues(new Uint32Array(1))[0]}` });
  line.textContent = changed ? `Typed here before, and not sent: ${draft.now}` : "Typed here before, kept on this device, not sent.";
  (one.closest("label") ?? one).after(line);
  one.setAttribute("aria-describedby", line.id);
}

/** @param {Event} event */
const typed = (event) => { if (event.target instanceof Element && event.target.matches(fields)) keep(/** @type {any} */ (event.target)); };

try {
  for (const name of Object.keys(localStorage).filter((one) => one.startsWith("draft "))) {
    if (Date.now() - JSON.parse(localStorage.getItem(name) ?? "{}").at > KEPT) localStorage.removeItem(name);
  }
  document.querySelectorAll(fields).forEach((one) => restore(/** @type {any} */ (one)));
  document.addEventListener("input", typed);
  document.addEventListener("change", typed);
  document.addEventListener("kept", (event) => { // by the queue, which has it from now on
    for (const one of /** @type {HTMLFormElement} */ (event.target).elements) {
      if (!one.matches(fields)) continue;
      localStorage.removeItem(key(/** @type {any} */ (one)));
      document.getElementById(one.getAttribute("aria-describedby") ?? "")?.remove();
    }
  });
} catch { /* this browser keeps nothing */ }
