// What every page does: announce, clear refusals, keep what is being typed, switch the room, keys for undo.

import { announce } from "./act.js";

document.addEventListener("print-changed", (event) => announce(event.detail?.said));

// A refusal stays beside its control until that is taken, or put back.
document.addEventListener("htmx:after:request", (event) => {
  const { ctx } = event.detail;
  if (ctx.response?.raw?.status !== 204) return;
  if (ctx.target?.matches?.(".refusal")) ctx.target.replaceChildren();
  // What was typed is now what the server holds: the refresh that follows may write it anew.
  const source = ctx.sourceElement;
  (source.matches("form") ? [...source.elements] : [source]).forEach((each) => delete each.dataset?.typed);
});

// What is being typed is never written over by a refresh; it counts until it is sent or left as it was.
document.addEventListener("input", (event) => {
  if (event.target.matches("input[type='text'], textarea")) event.target.dataset.typed = "";
});
document.addEventListener("keydown", (event) => {
  if (event.key !== "Escape" || !event.target.matches("input[type='text']")) return;
  event.target.value = event.target.defaultValue;
  delete event.target.dataset.typed;
  htmx.find(event.target, "next .refusal")?.replaceChildren();
});

// The morph compares attributes, not what a field shows: put fields that nobody is typing in back to the page's value.
document.addEventListener("htmx:after:swap", () => {
  for (const field of document.querySelectorAll("#station input[type='text']:not([data-typed])")) {
    if (field !== document.activeElement) field.value = field.defaultValue;
  }
  for (const choice of document.querySelectorAll("#station select:not([data-free])")) {
    const set = choice.querySelector("option[selected]");
    if (set && choice !== document.activeElement) choice.value = set.value;
  }
});

// The room's light: the switch in the header.
document.addEventListener("click", (event) => {
  const button = event.target.closest?.("[data-room-switch]");
  if (!button) return;
  const root = document.documentElement;
  const dark = root.dataset.room
    ? root.dataset.room === "dark"
    : matchMedia("(prefers-color-scheme: dark)").matches;
  root.dataset.room = dark ? "light" : "dark";
  try {
    localStorage.setItem("room", root.dataset.room);
  } catch {
    // It holds for this page then.
  }
});

// Ctrl or Cmd with Z takes back, with Shift or Y does again, unless a field is being typed in.
document.addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey) || event.altKey || event.target.matches("input[type='text'], textarea")) return;
  const key = event.key.toLowerCase();
  const name = key === "z" ? (event.shiftKey ? "redo" : "undo") : key === "y" ? "redo" : null;
  const button = name && document.getElementById(name);
  if (!button || button.disabled) return;
  event.preventDefault();
  button.click();
});
