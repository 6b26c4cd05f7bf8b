// Choosing a shape: by a click on the sheet, or by its name in the list; the address keeps it.

function choose(url) {
  return htmx.ajax("GET", url, { target: "#shape", swap: "innerHTML" });
}

document.addEventListener("sheet-click", (event) => {
  const part = document.getElementById("shape");
  if (!part) return;
  const [x, y] = event.detail.at;
  choose(`${part.dataset.url}?x=${x.toFixed(3)}&y=${y.toFixed(3)}`);
});

// Whatever brings a shape's part brings its outline: draw it, keep its place in the address, mark its colour.
document.addEventListener("htmx:after:swap", () => {
  const told = document.querySelector("#shape [data-outline]");
  const sheet = document.querySelector("sheet-view");
  if (!told || !sheet) return;
  if (sheet.getAttribute("outline") !== told.dataset.outline) sheet.setAttribute("outline", told.dataset.outline);
  const here = new URL(location.href);
  here.searchParams.set("at", told.dataset.at);
  history.replaceState(history.state, "", here);
  for (const row of document.querySelectorAll(".palette .colour")) {
    if (row.dataset.colour === told.dataset.colour) row.setAttribute("aria-current", "true");
    else row.removeAttribute("aria-current");
  }
});

// "Show" on a finding also speaks about the shape that it points at.
document.addEventListener("click", (event) => {
  const word = event.target.closest?.("[data-show-pin]");
  const part = word && document.getElementById("shape");
  if (!part) return;
  const [x, y] = word.dataset.showAt.split(",");
  choose(`${part.dataset.url}?x=${x}&y=${y}`);
});
