// The shelf: what was changed is shown anew, with focus and what is being typed left as they are; a colour that is
// picked is written into the field that is searched by.

let under_way = false;

document.addEventListener("print-changed", async () => {
  if (under_way) return;
  under_way = true;
  try {
    await htmx.ajax("GET", location.pathname + location.search, { target: "#station", swap: "outerMorph" });
    // The field that was sent from still has the focus, and holds what was typed: 84,5 is kept as 84.5.
    const here = document.activeElement;
    if (here?.matches("#station input[type='text']:not([data-typed])")) here.value = here.defaultValue;
  } finally {
    under_way = false;
  }
});

document.addEventListener("change", (event) => {
  if (event.target.id !== "pick-near") return;
  const field = document.getElementById("find-near");
  field.value = event.target.value;
  field.form.requestSubmit();
});
