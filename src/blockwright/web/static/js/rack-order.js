// <rack-order>: the printing order. Arrows choose, Alt with an arrow moves, and so does dragging.
// Attributes: post (where an order goes), moved (a sentence with {name} and {number}).

import { act, announce } from "./act.js";

class RackOrder extends HTMLElement {
  #dragged = null;

  connectedCallback() {
    this.addEventListener("keydown", this.#key);
    this.addEventListener("dragstart", this.#lift);
    this.addEventListener("dragover", this.#over);
    this.addEventListener("drop", this.#drop);
    this.addEventListener("dragend", this.#clear);
    this.querySelector("[aria-current]")?.scrollIntoView({ block: "nearest", inline: "nearest" });
  }

  get rows() {
    return [...this.querySelectorAll("li[data-name]")];
  }

  #key = (event) => {
    const row = event.target.closest?.("li[data-name]");
    if (!row || event.ctrlKey || event.metaKey) return;
    const step = { ArrowUp: -1, ArrowLeft: -1, ArrowDown: 1, ArrowRight: 1 }[event.key];
    const rows = this.rows;
    const place = rows.indexOf(row);
    const next = { Home: 0, End: rows.length - 1 }[event.key] ?? (step ? place + step : undefined);
    if (next === undefined) return;
    event.preventDefault();
    if (next < 0 || next >= rows.length || next === place) return;
    if (event.altKey) {
      this.#move(row, next);
      return;
    }
    const way = rows[next].querySelector(".place");
    way.focus();
    way.click();
  };

  async #move(row, to) {
    if (this.hasAttribute("still")) return;
    const rows = this.rows;
    const from = rows.indexOf(row);
    if (from === to) return;
    const focused = row.contains(document.activeElement);
    rows[to][to > from ? "after" : "before"](row);
    if (focused) row.querySelector(".place").focus();
    row.scrollIntoView({ block: "nearest", inline: "nearest" });
    announce((this.getAttribute("moved") ?? "").replace("{name}", row.dataset.name).replace("{number}", to + 1));
    const taken = await act(this.getAttribute("post"), [
      ["act", "set-order"],
      ...this.rows.map((each) => ["name", each.dataset.name]),
    ]);
    if (!taken) document.querySelector("print-stream")?.refresh();
  }

  #lift = (event) => {
    this.#dragged = event.target.closest?.("li[data-name]");
    if (!this.#dragged || this.hasAttribute("still")) return;
    event.dataTransfer.effectAllowed = "move";
    event.dataTransfer.setData("text/plain", this.#dragged.dataset.name);
    this.#dragged.classList.add("dragged");
  };

  #over = (event) => {
    const row = event.target.closest?.("li[data-name]");
    if (!this.#dragged || !row) return;
    event.preventDefault();
    this.#unmark();
    if (row !== this.#dragged) row.classList.add(this.#behind(event, row) ? "after" : "before");
  };

  #drop = (event) => {
    const row = event.target.closest?.("li[data-name]");
    const dragged = this.#dragged;
    if (!dragged || !row) return;
    event.preventDefault();
    const rest = this.rows.filter((each) => each !== dragged);
    const to = rest.indexOf(row) + (this.#behind(event, row) ? 1 : 0);
    this.#clear();
    if (row !== dragged) this.#move(dragged, to);
  };

  // A rack that lies across is read from left to right.
  #behind(event, row) {
    const box = row.getBoundingClientRect();
    const across = this.rows[1] && this.rows[1].getBoundingClientRect().left > this.rows[0].getBoundingClientRect().left;
    return across ? event.clientX > box.left + box.width / 2 : event.clientY > box.top + box.height / 2;
  }

  #unmark() {
    this.querySelectorAll(".before, .after").forEach((row) => row.classList.remove("before", "after"));
  }

  #clear = () => {
    this.#unmark();
    this.#dragged?.classList.remove("dragged");
    this.#dragged = null;
  };
}

customElements.define("rack-order", RackOrder);

// Words that move the chosen impression: data-move="-1" or "1".
document.addEventListener("click", (event) => {
  const word = event.target.closest?.("[data-move]");
  const rack = word && document.querySelector("rack-order");
  const row = rack?.querySelector("[aria-current]")?.closest("li");
  if (!row) return;
  row.querySelector(".place").dispatchEvent(
    new KeyboardEvent("keydown", {
      key: word.dataset.move === "1" ? "ArrowDown" : "ArrowUp",
      altKey: true,
      bubbles: true,
    }),
  );
});
