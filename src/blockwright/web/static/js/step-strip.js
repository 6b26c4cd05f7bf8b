// <step-strip>: the progressive proofs side by side. Arrows step, Home and End go to the first and the last;
// the strip moves sideways so that the one shown is seen, and never moves the page.

class StepStrip extends HTMLElement {
  connectedCallback() {
    this.addEventListener("keydown", this.#key);
    this.reveal();
  }

  reveal() {
    const strip = this.querySelector("ol");
    const here = this.querySelector("[aria-current]")?.closest("li");
    if (!strip || !here) return;
    strip.scrollLeft = here.offsetLeft - strip.offsetLeft - (strip.clientWidth - here.offsetWidth) / 2;
  }

  #key = (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const ways = [...this.querySelectorAll("a")];
    const place = ways.indexOf(event.target.closest?.("a"));
    const step = { ArrowUp: -1, ArrowLeft: -1, ArrowDown: 1, ArrowRight: 1 }[event.key];
    const next = { Home: 0, End: ways.length - 1 }[event.key] ?? (step ? place + step : undefined);
    if (place < 0 || next === undefined) return;
    event.preventDefault();
    if (!ways[next] || next === place) return;
    ways[next].focus({ preventScroll: true });
    ways[next].click();
  };
}

customElements.define("step-strip", StepStrip);

document.addEventListener("htmx:after:swap", () => document.querySelector("step-strip")?.reveal());
