// <sheet-view>: the sheet on its paper, as deep as one likes to look; one layer or two with a divider between
// them; findings pinned where they are; the outline of a shape. All places are in mm from the image's corner.
//
// Attributes: layers (JSON: [{what, name, url, width, height, tile, levels}], at most two), width-mm, height-mm,
// margins ("left,top,right,bottom" in mm), paper ("#rrggbb"), pins (JSON: [{key, number, at, text, severity}]),
// outline (JSON: rings in mm), divider (0 to 1: where the divider first stands), label, divider-label.
// Events: sheet-click {at: [x, y]}, sheet-pin {key}, sheet-drawn.

const STEP = 0.04; // of the divider's way, for one press of an arrow key
const PAN = 0.15; // of the view
const NEARER = 1.5;
const OVER_PX = 12; // how far the divider stands out above the sheet
const FOOT_PX = 40; // and below it, with the names of the layers
const LEAST_PX = 90; // what is seen of it when the sheet is hardly in sight
const TOO_NEAR_PX = 22; // less than a pin is wide: one could not be told from the other
const SVG = "http://www.w3.org/2000/svg";

// The viewer puts a style element into the page unless there is one with this mark; the page's policy forbids it.
function quieten() {
  if (document.querySelector("style[data-openseadragon-mobile-css]")) return;
  // Of no namespace that a browser knows: found by the viewer, and no style to anyone.
  const mark = document.createElementNS("urn:mark", "style");
  mark.setAttribute("data-openseadragon-mobile-css", "");
  document.head.append(mark);
}

class SheetView extends HTMLElement {
  static observedAttributes = ["layers", "pins", "outline", "margins", "paper"];

  #viewer = null;
  #items = [null, null]; // what is shown of each layer: {key, tiled, drawn, from, to}
  #split = 0.5;
  #wanted = false;

  connectedCallback() {
    if (this.#viewer) return;
    this.#split = Number(this.getAttribute("divider") ?? 0.5);
    this.#build();
    this.#start();
    this.#update();
  }

  disconnectedCallback() {
    // A morph may move the element: only what is really gone is taken down.
    queueMicrotask(() => {
      if (this.isConnected || !this.#viewer) return;
      this.#viewer.destroy();
      this.#viewer = null;
      this.#items = [null, null];
      this.replaceChildren();
    });
  }

  attributeChangedCallback() {
    if (this.#wanted || !this.#viewer) return;
    this.#wanted = true;
    queueMicrotask(() => {
      this.#wanted = false;
      if (this.#viewer) this.#update();
    });
  }

  // ---- what others may call -------------------------------------------------------------------------

  drawnAt = null; // when the sheet was last whole on the screen, on the page's clock

  // Whether all layers are whole on the screen, in their present version; `among` is part of one's address.
  isDrawn(among = "") {
    const items = this.#items.filter((item, k) => item && this.#seen(k));
    return items.length > 0 && items.every((item) => item.drawn) && items.some((item) => item.key.includes(among));
  }

  // Whether anything of a layer is on its side of the divider.
  #seen(k) {
    if (!this.#items[1]) return k === 0;
    return k === 0 ? this.#split > 0 : this.#split < 1;
  }

  home(immediately = false) {
    // A frame that was asked for before the sheet was taken off the page comes after it is gone.
    if (!this.#viewer) return;
    const [left, top, right, bottom] = this.#margins();
    const width = this.#mm("width-mm");
    const x = -left / width;
    const y = -top / width;
    const across = (width + left + right) / width;
    const down = (this.#mm("height-mm") + top + bottom) / width;
    const air = 0.035 * Math.max(across, down);
    const view = new OpenSeadragon.Rect(x - air, y - air, across + 2 * air, down + 2 * air);
    this.#viewer.viewport.fitBounds(view, immediately);
  }

  nearer(times = NEARER) {
    this.#viewer.viewport.zoomBy(times);
    this.#viewer.viewport.applyConstraints();
  }

  // Go to a place; `reach` mm around it are to be seen.
  show([x, y], reach = 15) {
    const width = this.#mm("width-mm");
    const view = new OpenSeadragon.Rect((x - reach) / width, (y - reach) / width, (2 * reach) / width, (2 * reach) / width);
    this.#viewer.viewport.fitBounds(view);
  }

  // ---- making ---------------------------------------------------------------------------------------

  #build() {
    this.under = this.#part("div", "under");
    this.sheet = document.createElement("div");
    this.sheet.className = "paper";
    this.under.append(this.sheet);
    this.canvas = this.#part("div", "canvas");
    this.canvas.tabIndex = 0;
    this.canvas.setAttribute("role", "application");
    this.canvas.setAttribute("aria-label", this.getAttribute("label") ?? "");
    this.over = this.#part("div", "over");
    this.drawing = document.createElementNS(SVG, "svg");
    this.drawing.setAttribute("class", "drawn");
    this.drawing.setAttribute("aria-hidden", "true");
    this.group = document.createElementNS(SVG, "g");
    this.drawing.append(this.group);
    this.over.append(this.drawing);
    this.canvas.addEventListener("keydown", (event) => this.#key(event));
  }

  #part(tag, name) {
    const part = document.createElement(tag);
    part.className = name;
    this.append(part);
    return part;
  }

  #start() {
    quieten();
    const calm = matchMedia("(prefers-reduced-motion: reduce)").matches;
    this.#viewer = OpenSeadragon({
      element: this.canvas,
      showNavigationControl: false,
      drawer: "canvas",
      tabIndex: -1,
      animationTime: calm ? 0 : 0.35,
      springStiffness: 9,
      blendTime: 0,
      visibilityRatio: 0.25,
      minZoomLevel: 0.3,
      maxZoomPixelRatio: 8,
      zoomPerScroll: 1.25,
      gestureSettingsMouse: { clickToZoom: false, dblClickToZoom: false },
      gestureSettingsTouch: { clickToZoom: false, dblClickToZoom: true },
      gestureSettingsPen: { clickToZoom: false },
    });
    this.#viewer.innerTracker.keyDownHandler = null;
    this.#viewer.innerTracker.keyHandler = null;
    this.#viewer.addHandler("update-viewport", () => this.#follow());
    // The names at the divider's foot are as wide as their font, which may come later.
    document.fonts.ready.then(() => this.#follow());
    this.#viewer.addHandler("resize", () => requestAnimationFrame(() => this.#untouched && this.home(true)));
    for (const name of ["canvas-drag", "canvas-scroll", "canvas-pinch"]) {
      this.#viewer.addHandler(name, () => (this.#untouched = false));
    }
    this.#viewer.addHandler("canvas-click", (event) => this.#click(event));
  }

  #untouched = true;

  // ---- following the attributes ---------------------------------------------------------------------

  #update() {
    const layers = this.#json("layers", []);
    layers.slice(0, 2).forEach((layer, k) => this.#showLayer(layer, k));
    if (layers.length < 2 && this.#items[1]) this.#drop(1);
    this.sheet.style.background = this.getAttribute("paper") ?? "#fbf7ec";
    this.canvas.setAttribute("aria-label", this.getAttribute("label") ?? "");
    this.#drawOutline();
    this.#drawPins();
    this.#drawDivider(layers);
    if (this.#untouched) this.home(true);
    this.#follow();
  }

  // A new version is laid over the old one, which goes only when the new one is there: nothing flashes.
  #showLayer(layer, k) {
    const shown = this.#items[k];
    if (shown?.key === layer.url) return;
    const item = { key: layer.url, tiled: null };
    this.#items[k] = item;
    this.#viewer.addTiledImage({
      tileSource: {
        width: layer.width,
        height: layer.height,
        tileSize: layer.tile,
        minLevel: 0,
        maxLevel: layer.levels - 1,
        getTileUrl: (level, x, y) => `${layer.url}/${level}/${x}_${y}.jpg`,
      },
      width: 1,
      success: ({ item: tiled }) => {
        item.tiled = tiled;
        if (this.#items[k] !== item) {
          this.#viewer?.world.removeItem(tiled);
          return;
        }
        this.#clip();
        tiled.whenFullyLoaded(() => this.#tellDrawn(item));
        const old = shown?.tiled;
        if (!old) return;
        const retire = () => this.#viewer?.world.getIndexOfItem(old) >= 0 && this.#viewer.world.removeItem(old);
        tiled.whenFullyLoaded(retire);
        setTimeout(retire, 4000);
      },
    });
  }

  #tellDrawn(item) {
    item.drawn = true;
    if (!this.isDrawn()) return;
    this.drawnAt = performance.now();
    this.dispatchEvent(new CustomEvent("sheet-drawn", { bubbles: true }));
  }

  #drop(k) {
    if (this.#items[k]?.tiled) this.#viewer.world.removeItem(this.#items[k].tiled);
    this.#items[k] = null;
  }


  // Each layer is drawn on its own side of the divider only: their pictures may differ by part of a pixel.
  #clip() {
    const [first, second] = this.#items;
    if (!first?.tiled) return;
    if (!second?.tiled) {
      this.#limit(first, 0, 1);
      return;
    }
    const edge = this.#viewer.viewport.pointFromPixel(new OpenSeadragon.Point(this.#split * this.clientWidth, 0), true).x;
    const share = this.#split >= 1 ? 1 : this.#split <= 0 ? 0 : Math.min(Math.max(edge, 0), 1);
    this.#limit(first, 0, share);
    this.#limit(second, share, 1);
  }

  // A layer that is clipped is drawn anew, and what is drawn is followed: the same limits set again and again
  // would have a sheet that nobody touches drawn for ever.
  #limit(item, from, to) {
    if (item.from === from && item.to === to) return;
    item.from = from;
    item.to = to;
    item.tiled.setOpacity(to > from ? 1 : 0);
    if (to <= from) return;
    const size = item.tiled.getContentSize();
    const whole = from === 0 && to === 1;
    item.tiled.setClip(whole ? null : new OpenSeadragon.Rect(from * size.x, 0, (to - from) * size.x, size.y));
  }

  #follow() {
    const viewport = this.#viewer?.viewport;
    if (!viewport || !this.clientWidth) return;
    const width = this.#mm("width-mm");
    const origin = viewport.pixelFromPoint(new OpenSeadragon.Point(0, 0), true);
    const scale = (viewport.pixelFromPoint(new OpenSeadragon.Point(1, 0), true).x - origin.x) / width;
    const [left, top, right, bottom] = this.#margins();
    this.sheet.style.transform = `translate(${origin.x - left * scale}px, ${origin.y - top * scale}px)`;
    this.sheet.style.width = `${(width + left + right) * scale}px`;
    this.sheet.style.height = `${(this.#mm("height-mm") + top + bottom) * scale}px`;
    this.group.setAttribute("transform", `translate(${origin.x} ${origin.y}) scale(${scale})`);
    this.place = { x: origin.x, y: origin.y, scale };
    this.dispatchEvent(new CustomEvent("sheet-moved"));
    this.#reach = {
      left: origin.x - left * scale,
      right: origin.x + (width + right) * scale,
      top: origin.y - top * scale,
      bottom: origin.y + (this.#mm("height-mm") + bottom) * scale,
    };
    this.#placeDivider();
    this.#placePins(origin, scale);
    this.#clip();
  }

  // Of pins that would lie on one another the first stands for all; nearer they come apart.
  #placePins(origin, scale) {
    const seen = [];
    for (const pin of this.over.querySelectorAll(".pin")) {
      const x = origin.x + Number(pin.dataset.x) * scale;
      const y = origin.y + Number(pin.dataset.y) * scale;
      const before = seen.find((other) => Math.hypot(other.x - x, other.y - y) < TOO_NEAR_PX);
      pin.style.transform = `translate(${x}px, ${y}px)`;
      pin.style.visibility = before ? "hidden" : "";
      pin.classList.remove("several");
      if (before) before.pin.classList.add("several");
      else seen.push({ x, y, pin });
    }
  }

  // ---- what is drawn over it ------------------------------------------------------------------------

  #drawOutline() {
    const rings = this.#json("outline", []);
    const path = rings.map((ring) => `M${ring.map(([x, y]) => `${x},${y}`).join("L")}Z`).join("");
    this.group.replaceChildren();
    if (!path) return;
    for (const name of ["halo", "line"]) {
      const drawn = document.createElementNS(SVG, "path");
      drawn.setAttribute("class", name);
      drawn.setAttribute("d", path);
      this.group.append(drawn);
    }
  }

  #drawPins() {
    const pins = this.#json("pins", []);
    const before = new Map([...this.over.querySelectorAll(".pin")].map((pin) => [pin.dataset.key, pin]));
    for (const told of pins) {
      const pin = before.get(told.key) ?? this.#makePin(told.key);
      before.delete(told.key);
      pin.className = `pin ${told.severity}`;
      pin.textContent = told.number;
      pin.title = told.text;
      pin.setAttribute("aria-label", `${told.number}. ${told.text}`);
      [pin.dataset.x, pin.dataset.y] = told.at;
    }
    before.forEach((pin) => pin.remove());
  }

  #makePin(key) {
    const pin = document.createElement("button");
    pin.type = "button";
    pin.dataset.key = key;
    pin.setAttribute("aria-pressed", "false");
    pin.addEventListener("click", () => {
      this.choosePin(key);
      this.dispatchEvent(new CustomEvent("sheet-pin", { detail: { key }, bubbles: true }));
    });
    this.over.append(pin);
    return pin;
  }

  choosePin(key) {
    for (const pin of this.over.querySelectorAll(".pin")) pin.setAttribute("aria-pressed", String(pin.dataset.key === key));
  }

  // ---- the divider ----------------------------------------------------------------------------------

  #drawDivider(layers) {
    if (layers.length < 2) {
      this.divider?.remove();
      this.divider = null;
      return;
    }
    if (!this.divider) {
      this.#makeDivider();
      this.#split = Number(this.getAttribute("divider") ?? 0.5);
    }
    this.divider.setAttribute("aria-label", this.getAttribute("divider-label") ?? "");
    this.divider.firstChild.replaceChildren(
      ...layers.slice(0, 2).map((layer) => Object.assign(document.createElement("span"), { textContent: layer.name })),
    );
    this.names = layers.map((layer) => layer.name);
    this.#setSplit(this.#split);
  }

  #makeDivider() {
    this.divider = this.#part("div", "divider");
    this.divider.tabIndex = 0;
    this.divider.setAttribute("role", "slider");
    this.divider.setAttribute("aria-valuemin", "0");
    this.divider.setAttribute("aria-valuemax", "100");
    this.divider.append(Object.assign(document.createElement("div"), { className: "grip" }));
    this.divider.addEventListener("keydown", (event) => {
      const to = {
        ArrowLeft: this.#split - STEP,
        ArrowDown: this.#split - STEP,
        ArrowRight: this.#split + STEP,
        ArrowUp: this.#split + STEP,
        PageDown: this.#split - 5 * STEP,
        PageUp: this.#split + 5 * STEP,
        Home: 0,
        End: 1,
      }[event.key];
      if (to === undefined) return;
      event.preventDefault();
      event.stopPropagation();
      this.#setSplit(to);
    });
    const drag = (event) => this.#setSplit((event.clientX - this.getBoundingClientRect().left) / this.clientWidth);
    this.divider.addEventListener("pointerdown", (event) => {
      this.divider.setPointerCapture(event.pointerId);
      this.divider.addEventListener("pointermove", drag);
    });
    for (const name of ["pointerup", "pointercancel"]) {
      this.divider.addEventListener(name, () => this.divider.removeEventListener("pointermove", drag));
    }
  }

  #setSplit(to) {
    this.#split = Math.min(Math.max(to, 0), 1);
    const percent = Math.round(100 * this.#split);
    this.#placeDivider();
    this.divider.setAttribute("aria-valuenow", String(percent));
    this.divider.setAttribute("aria-valuetext", `${this.names[0]} ${percent} %, ${this.names[1]} ${100 - percent} %`);
    this.#clip();
    this.#viewer.forceRedraw();
  }

  place = null; // the image's upper left corner in pixels of the view, and pixels to the mm
  #reach = null; // the sheet in pixels of the view

  // It lies over the sheet and no farther, its names at the sheet's foot, never beside it.
  #placeDivider() {
    if (!this.divider || !this.#reach) return;
    const { clientWidth: width, clientHeight: height } = this;
    const { left, right, top, bottom } = this.#reach;
    const x = Math.min(Math.max(this.#split * width, left, 0), Math.max(Math.min(right, width), 0));
    const from = Math.min(Math.max(top - OVER_PX, 0), height - LEAST_PX);
    const to = Math.max(Math.min(bottom + FOOT_PX, height), from + LEAST_PX);
    this.divider.style.left = `${x}px`;
    this.divider.style.top = `${from}px`;
    this.divider.style.bottom = `${height - to}px`;
    const half = this.divider.firstChild.offsetWidth / 2;
    const shift = Math.max(Math.max(left, 0) + half - x, 0) - Math.max(x + half - Math.min(right, width), 0);
    this.divider.firstChild.style.transform = `translateX(calc(-50% + ${shift}px))`;
  }

  // ---- hands ----------------------------------------------------------------------------------------

  #click(event) {
    if (!event.quick) return;
    const width = this.#mm("width-mm");
    const point = this.#viewer.viewport.pointFromPixel(event.position, true);
    const at = [point.x * width, point.y * width];
    if (at[0] < 0 || at[1] < 0 || at[0] > width || at[1] > this.#mm("height-mm")) return;
    this.dispatchEvent(new CustomEvent("sheet-click", { detail: { at }, bubbles: true }));
  }

  #key(event) {
    if (event.target !== this.canvas || event.ctrlKey || event.metaKey || event.altKey) return;
    const { viewport } = this.#viewer;
    const view = viewport.getBounds();
    const pan = (x, y) => viewport.panBy(new OpenSeadragon.Point(x * view.width * PAN, y * view.height * PAN));
    const hand = {
      ArrowLeft: () => pan(-1, 0),
      ArrowRight: () => pan(1, 0),
      ArrowUp: () => pan(0, -1),
      ArrowDown: () => pan(0, 1),
      "+": () => this.nearer(),
      "=": () => this.nearer(),
      "-": () => this.nearer(1 / NEARER),
      0: () => this.home(),
    }[event.key];
    if (!hand) return;
    event.preventDefault();
    this.#untouched = event.key === "0";
    hand();
    viewport.applyConstraints();
  }

  // ---- reading --------------------------------------------------------------------------------------

  #mm(name) {
    return Number(this.getAttribute(name));
  }

  #margins() {
    return (this.getAttribute("margins") ?? "0,0,0,0").split(",").map(Number);
  }

  #json(name, otherwise) {
    const text = this.getAttribute(name);
    return text ? JSON.parse(text) : otherwise;
  }

  touched() {
    this.#untouched = false;
  }

  get dividerAt() {
    return this.#split;
  }
}

customElements.define("sheet-view", SheetView);

// The words under a sheet: data-view="home", "nearer" or "farther".
document.addEventListener("click", (event) => {
  const word = event.target.closest?.("[data-view]");
  const sheet = word?.closest(".middle")?.querySelector("sheet-view");
  if (!sheet) return;
  if (word.dataset.view === "home") sheet.home();
  if (word.dataset.view === "nearer") sheet.nearer();
  if (word.dataset.view === "farther") sheet.nearer(1 / NEARER);
});

// "Show": data-show-at="x,y" brings a place near; data-show-pin also marks its pin.
document.addEventListener("click", (event) => {
  const word = event.target.closest?.("[data-show-at]");
  const sheet = word && document.querySelector("sheet-view");
  if (!sheet) return;
  sheet.touched();
  sheet.show(word.dataset.showAt.split(",").map(Number));
  if (word.dataset.showPin) sheet.choosePin(word.dataset.showPin);
});

// A pin leads to its sentence.
function markFinding(key) {
  for (const finding of document.querySelectorAll("[data-finding]")) {
    finding.classList.toggle("chosen", finding.dataset.finding === key);
  }
}
document.addEventListener("sheet-pin", (event) => {
  markFinding(event.detail.key);
  document.querySelector("[data-finding].chosen")?.scrollIntoView({ block: "nearest" });
});

// A refresh brings the sentences as the server has them, which knows nothing of what is chosen on the sheet.
document.addEventListener("htmx:after:swap", () => {
  const pin = document.querySelector("sheet-view .pin[aria-pressed='true']");
  if (pin) markFinding(pin.dataset.key);
});
