// The way of a gradation on the sheet: a line between two ends, which are dragged or moved with the arrow keys.
// The form beside it holds the numbers; a new place of an end is written there and sent.

const SVG = "http://www.w3.org/2000/svg";
const STEP_MM = 1;
const FAR_STEP_MM = 10;
const ENDS = ["start", "end"];

class GradationAxis extends HTMLElement {
  #sheet = null;
  #handles = {};
  #line = null;
  #follow = () => this.#place();

  connectedCallback() {
    // The sheet may be made later in the same breath.
    queueMicrotask(() => this.isConnected && this.#start());
  }

  disconnectedCallback() {
    queueMicrotask(() => {
      if (this.isConnected) return;
      this.#sheet?.removeEventListener("sheet-moved", this.#follow);
      document.removeEventListener("htmx:after:swap", this.#follow);
      this.#line?.remove();
      for (const handle of Object.values(this.#handles)) handle.remove();
      this.#sheet = null;
    });
  }

  #start() {
    const sheet = document.querySelector("sheet-view");
    if (!sheet?.over || this.#sheet) return;
    this.#sheet = sheet;
    this.#line = document.createElementNS(SVG, "svg");
    this.#line.setAttribute("class", "drawn axis");
    this.#line.setAttribute("aria-hidden", "true");
    for (const name of ["halo", "line"]) {
      const path = document.createElementNS(SVG, "path");
      path.setAttribute("class", name);
      this.#line.append(path);
    }
    sheet.over.append(this.#line);
    for (const end of ENDS) this.#handles[end] = this.#makeHandle(end);
    sheet.addEventListener("sheet-moved", this.#follow);
    document.addEventListener("htmx:after:swap", this.#follow); // other numbers may stand in the form
    this.#form()?.addEventListener("input", this.#follow);
    this.#place();
  }

  #form() {
    return document.getElementById(this.getAttribute("form"));
  }

  #field(end, axis) {
    return this.#form()?.elements.namedItem(`${end}_${axis}`);
  }

  #at(end) {
    return ["x", "y"].map((axis) => Number(String(this.#field(end, axis)?.value ?? "").replace(",", ".")));
  }

  #put(end, at) {
    ["x", "y"].forEach((axis, k) => {
      const field = this.#field(end, axis);
      if (field) field.value = String(Math.round(10 * at[k]) / 10);
    });
    this.#place();
  }

  #send() {
    this.#form()?.requestSubmit();
  }

  #makeHandle(end) {
    const handle = document.createElement("button");
    handle.type = "button";
    handle.className = `axis-end ${end}`;
    handle.disabled = this.hasAttribute("still");
    handle.addEventListener("keydown", (event) => this.#key(event, end));
    handle.addEventListener("pointerdown", (event) => this.#grab(event, end, handle));
    this.#sheet.over.append(handle);
    return handle;
  }

  #key(event, end) {
    const step = event.shiftKey ? FAR_STEP_MM : STEP_MM;
    const by = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] }[event.key];
    if (event.key === "Enter") {
      event.preventDefault();
      this.#send();
      return;
    }
    if (!by) return;
    event.preventDefault();
    event.stopPropagation();
    const [x, y] = this.#at(end);
    this.#put(end, [x + by[0], y + by[1]]);
    clearTimeout(this.sending);
    this.sending = setTimeout(() => this.#send(), 700);
  }

  #grab(event, end, handle) {
    event.preventDefault();
    event.stopPropagation();
    handle.focus();
    handle.setPointerCapture(event.pointerId);
    const drag = (moved) => {
      const { x, y, scale } = this.#sheet.place;
      const box = this.#sheet.getBoundingClientRect();
      this.#put(end, [(moved.clientX - box.left - x) / scale, (moved.clientY - box.top - y) / scale]);
    };
    const drop = (last) => {
      handle.removeEventListener("pointermove", drag);
      handle.removeEventListener("pointerup", drop);
      handle.removeEventListener("pointercancel", drop);
      if (last.type === "pointerup") this.#send();
    };
    handle.addEventListener("pointermove", drag);
    handle.addEventListener("pointerup", drop);
    handle.addEventListener("pointercancel", drop);
  }

  #place() {
    const place = this.#sheet?.place;
    if (!place || !this.#form()) return;
    const points = ENDS.map((end) => this.#at(end));
    if (points.flat().some((number) => !Number.isFinite(number))) return;
    const seen = points.map(([x, y]) => [place.x + x * place.scale, place.y + y * place.scale]);
    const way = `M${seen[0].join(",")}L${seen[1].join(",")}`;
    for (const path of this.#line.children) path.setAttribute("d", way);
    ENDS.forEach((end, k) => {
      const handle = this.#handles[end];
      handle.style.transform = `translate(${seen[k][0]}px, ${seen[k][1]}px)`;
      const [x, y] = points[k];
      handle.setAttribute("aria-label", `${this.getAttribute(`${end}-label`)}: ${x} mm, ${y} mm`);
    });
  }
}

customElements.define("gradation-axis", GradationAxis);
