// <rack-order>: the printing order. Arrows choose, Alt with an arrow moves, and so does dragging: with a mouse
// or a pen at once, with a finger after holding still, for a finger that moves at once scrolls.
// Attributes: post (where an order goes), moved (a sentence with {name} and {number}), still (it only chooses).

import { act, announce } from "./act.js";

const DRAG_PX = 5; // a hand that clicks moves less
const HOLD_MS = 300;
const NEAR_EDGE_PX = 36; // here the rack scrolls by itself while one drags
const SCROLL_PX = 9;
const BESIDE_PX = 60; // let go farther from the rack than this, and nothing is moved

class RackOrder extends HTMLElement {
  #press = null; // {row, id, x, y, hold, dragging, to, at} from pressing down to letting go

  connectedCallback() {
    this.addEventListener("keydown", this.#key);
    if (!this.hasAttribute("still")) {
      this.addEventListener("pointerdown", this.#down);
      this.addEventListener("pointermove", this.#drag);
      this.addEventListener("pointerup", this.#up);
      this.addEventListener("pointercancel", this.#clear);
      this.addEventListener("contextmenu", (event) => this.#press?.hold && event.preventDefault());
      // Only what is taken from the finger before it scrolls is ours to drag.
      this.addEventListener("touchmove", (event) => this.#press?.dragging && event.preventDefault(), { passive: false });
    }
    this.querySelector("[aria-current]")?.scrollIntoView({ block: "nearest", inline: "nearest" });
  }

  get rows() {
    return [...this.querySelectorAll("li[data-name]")];
  }

  #key = (event) => {
    if (event.key === "Escape" && this.#press) {
      this.#clear();
      return;
    }
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

  // ---- dragging -------------------------------------------------------------------------------------

  #down = (event) => {
    const row = event.target.closest?.("li[data-name]");
    if (!row || event.button !== 0 || this.#press) return;
    const press = { row, id: event.pointerId, x: event.clientX, y: event.clientY, to: null };
    this.#press = press;
    if (event.pointerType === "touch") press.hold = setTimeout(() => this.#press === press && this.#lift(), HOLD_MS);
  };

  #lift() {
    const press = this.#press;
    press.dragging = true;
    press.row.classList.add("dragged");
    this.classList.add("dragging");
    try {
      this.setPointerCapture(press.id);
    } catch {
      this.#clear(); // it was let go just now
    }
  }

  #drag = (event) => {
    const press = this.#press;
    if (!press || event.pointerId !== press.id) return;
    if (!press.dragging) {
      if (Math.hypot(event.clientX - press.x, event.clientY - press.y) < DRAG_PX) return;
      if (press.hold) {
        this.#clear(); // the finger scrolls
        return;
      }
      this.#lift();
    }
    press.at = event;
    this.#mark();
    if (!press.scrolling) {
      press.scrolling = true;
      requestAnimationFrame(this.#scroll);
    }
  };

  // Where it would go: before every row whose middle lies beyond the pointer. A rack may lie across.
  #mark() {
    const { row, at } = this.#press;
    const across = this.#across();
    const rack = this.getBoundingClientRect();
    const beside = across
      ? Math.max(rack.top - at.clientY, at.clientY - rack.bottom)
      : Math.max(rack.left - at.clientX, at.clientX - rack.right);
    const rest = this.rows.filter((each) => each !== row);
    const to = rest.filter((each) => {
      const box = each.getBoundingClientRect();
      return across ? at.clientX > box.left + box.width / 2 : at.clientY > box.top + box.height / 2;
    }).length;
    this.#unmark();
    this.#press.to = beside > BESIDE_PX ? null : to;
    if (this.#press.to === null || this.rows.indexOf(row) === to) return;
    (rest[to] ?? rest[to - 1]).classList.add(rest[to] ? "before" : "after");
  }

  #across() {
    const [first, second] = this.rows;
    return Boolean(second) && second.getBoundingClientRect().left > first.getBoundingClientRect().left;
  }

  #scroll = () => {
    const press = this.#press;
    if (!press?.dragging) return;
    const across = this.#across();
    const holder = across ? this.querySelector("ol") : this.closest(".side");
    const box = holder.getBoundingClientRect();
    const [start, end, at] = across ? [box.left, box.right, press.at.clientX] : [box.top, box.bottom, press.at.clientY];
    const step = at < start + NEAR_EDGE_PX ? -SCROLL_PX : at > end - NEAR_EDGE_PX ? SCROLL_PX : 0;
    if (step) {
      holder.scrollBy(across ? step : 0, across ? 0 : step);
      this.#mark();
    }
    requestAnimationFrame(this.#scroll);
  };

  #up = (event) => {
    const press = this.#press;
    if (!press || event.pointerId !== press.id) return;
    const { row, to, dragging } = press;
    this.#clear();
    if (!dragging) return;
    // Letting go is no click on what lies there.
    const swallow = (click) => {
      click.preventDefault();
      click.stopPropagation();
    };
    addEventListener("click", swallow, { capture: true, once: true });
    setTimeout(() => removeEventListener("click", swallow, { capture: true }));
    if (to !== null) this.#move(row, to);
  };

  #unmark() {
    this.querySelectorAll(".before, .after").forEach((row) => row.classList.remove("before", "after"));
  }

  #clear = () => {
    this.#unmark();
    clearTimeout(this.#press?.hold);
    this.#press?.row.classList.remove("dragged");
    this.classList.remove("dragging");
    this.#press = null;
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
