// <relief-view>: a face as it is cut, turned by mouse, finger or keys. Without WebGL its shaded picture stands.
// Places are in mm from the block's upper left corner, as it lies on the bench.
//
// Attributes: src (heights, as the server's relief.py tells), hand (JSON: {areas, narrow}), bits (a byte a square),
// tints (JSON: a colour a bit), width-mm, height-mm, pins (JSON: [{key, number, at, text, severity}]), label, alt,
// picture, library (the address of three.js).
// Events: relief-drawn when it is on the screen, relief-picture when the picture stands instead.

import { faceOf, halved, readBits, readHeights, sidesOf } from "./relief-shape.js";

const TURN = Math.PI / 36; // for one press of an arrow key
const NEARER = 1.25;
const MOVE = 0.06; // of what is seen, for one press of an arrow key with Shift
const FLATTEST = 0.14;
const STEEPEST = Math.PI / 2 - 0.001;
const AT_FIRST = { turn: -0.3, tilt: 0.98, times: 1 };
const OPENING_DEG = 28;
const AIR = 0.06; // round the block, of half the view
const TEXTURE_PX = 2048;
const STANDS_MM = 0.04; // less deep than this is the printing surface
const PRINTS = [250, 241, 220];
const WASTE_HIGH = [202, 164, 112];
const WASTE_DEEP = [150, 108, 66];
const SIDE = "#a87f52";
const SLOW_MS = 120; // for one picture: turning would jerk
const LEAST_SQUARES = 150; // along the longer side
const HAND_FILL = "rgba(156, 47, 36, 0.62)";
const HAND_LINE = "rgba(120, 30, 22, 0.95)";

class ReliefView extends HTMLElement {
  static observedAttributes = ["src", "hand", "bits", "pins", "label", "alt", "picture"];

  #three = null;
  #parts = null; // renderer, scene, camera, top, sides, paint
  #map = null; // {columns, rows, low, heights}
  #mesh = null; // the same, in larger squares where the machine is slow
  #over = { hand: null, bits: null };
  #shown = { hand: true, bits: false, high: 1 };
  #view = { ...AT_FIRST, x: 0, y: 0 };
  #pointers = new Map();
  #asked = "";
  #face = ""; // the address of what is shown, without its version
  #frame = 0;
  #late = false;

  connectedCallback() {
    if (this.canvas) return;
    this.#follow();
  }

  disconnectedCallback() {
    // A morph may move the element: only what is really gone is taken down.
    queueMicrotask(() => !this.isConnected && this.#takeDown());
  }

  attributeChangedCallback() {
    if (this.#late || !this.isConnected) return;
    this.#late = true;
    queueMicrotask(() => {
      this.#late = false;
      if (this.isConnected) this.#follow();
    });
  }

  // ---- what others may call -------------------------------------------------------------------------

  drawn = false; // whether it is on the screen in its present version

  get state() {
    return { ...this.#view, ...this.#shown };
  }

  set(name) {
    if (!this.#parts) return;
    if (name === "home") this.#view = { ...AT_FIRST, x: 0, y: 0 };
    else if (name === "nearer") this.#nearer(NEARER);
    else if (name === "farther") this.#nearer(1 / NEARER);
    else if (name.startsWith("high-")) this.#rise(Number(name.slice(5)));
    else {
      this.#shown[name] = !this.#shown[name];
      this.#paint();
    }
    this.#sayWords();
    this.#ask();
  }

  // Bring a pin near; false where there is none of that key.
  showPin(key) {
    const told = this.#json("pins", []).find((pin) => pin.key === key);
    if (!told || !this.#parts) return false;
    this.#view.x = told.at[0] - this.#mm("width-mm") / 2;
    this.#view.y = told.at[1] - this.#mm("height-mm") / 2;
    this.#view.times = Math.max(this.#view.times, 5);
    this.choosePin(key);
    this.#ask();
    return true;
  }

  choosePin(key) {
    for (const pin of this.querySelectorAll(".pin")) pin.setAttribute("aria-pressed", String(pin.dataset.key === key));
  }

  // ---- following the attributes ---------------------------------------------------------------------

  async #follow() {
    this.canvas?.setAttribute("aria-label", this.getAttribute("label") ?? "");
    this.#drawPins();
    this.#ask();
    const asked = ["src", "hand", "bits"].map((name) => this.getAttribute(name) ?? "").join(" ");
    if (asked === this.#asked) return;
    this.#asked = asked;
    this.drawn = false;
    // Another version of the same face stays as it is seen.
    const face = (this.getAttribute("src") ?? "").split("/").slice(0, -2).join("/");
    if (face !== this.#face) this.#view = { ...AT_FIRST, x: 0, y: 0 };
    this.#face = face;
    try {
      if (!this.#three && !canDraw()) throw new Error("no WebGL");
      this.#three ??= await import(this.getAttribute("library"));
      const [heights, hand, bits] = await Promise.all([
        taken(this.getAttribute("src"), "arrayBuffer"),
        taken(this.getAttribute("hand"), "json").catch(() => null),
        taken(this.getAttribute("bits"), "arrayBuffer").catch(() => null),
      ]);
      if (asked !== this.#asked || !this.isConnected) return;
      this.#map = readHeights(heights);
      this.#mesh = this.#map;
      this.#over = { hand, bits: bits && readBits(bits) };
      this.#build();
      this.#shape();
      this.#paint();
      this.#sayWords();
      this.#ask();
    } catch {
      if (asked === this.#asked && !this.#parts) this.#stand();
    }
  }

  // The shaded picture stands instead.
  #stand() {
    this.#takeDown();
    this.#asked = "none";
    const picture = this.getAttribute("picture");
    if (picture) {
      const img = document.createElement("img");
      img.src = picture;
      img.alt = this.getAttribute("alt") ?? "";
      this.replaceChildren(img);
    }
    this.dispatchEvent(new CustomEvent("relief-picture", { bubbles: true }));
  }

  #takeDown() {
    cancelAnimationFrame(this.#frame);
    this.#frame = 0;
    this.sizes?.disconnect();
    const parts = this.#parts;
    this.#parts = null;
    parts?.top?.geometry.dispose();
    parts?.sides?.geometry.dispose();
    parts?.paint?.dispose();
    parts?.renderer.dispose();
    // A browser has room for few of them, and gives them back late by itself.
    parts?.renderer.forceContextLoss();
    this.canvas = null;
    this.#asked = "";
    this.replaceChildren();
    sayWords(null);
  }

  // ---- making ---------------------------------------------------------------------------------------

  #build() {
    if (this.#parts) return;
    const { WebGLRenderer, Scene, PerspectiveCamera, HemisphereLight, DirectionalLight } = this.#three;
    const renderer = new WebGLRenderer({ antialias: true, alpha: true });
    renderer.setPixelRatio(Math.min(devicePixelRatio, 2));
    this.canvas = document.createElement("div");
    this.canvas.className = "canvas";
    this.canvas.tabIndex = 0;
    this.canvas.setAttribute("role", "application");
    this.canvas.setAttribute("aria-label", this.getAttribute("label") ?? "");
    this.canvas.append(renderer.domElement);
    this.over = document.createElement("div");
    this.over.className = "over";
    this.replaceChildren(this.canvas, this.over);
    const scene = new Scene();
    const lamp = new DirectionalLight("#fff6e6", 2.6);
    lamp.position.set(-0.75, 0.8, -0.5);
    scene.add(new HemisphereLight("#ffffff", "#b9a486", 1.15), lamp);
    const camera = new PerspectiveCamera(OPENING_DEG, 1, 1, 10000);
    this.#parts = { renderer, scene, camera, top: null, sides: null, paint: null };
    renderer.domElement.addEventListener("webglcontextlost", () => {
      if (this.#parts?.renderer === renderer) this.#stand();
    });
    this.#listen();
    this.#drawPins();
    this.sizes = new ResizeObserver(() => this.#ask());
    this.sizes.observe(this);
  }

  #shape() {
    const { Mesh, MeshLambertMaterial } = this.#three;
    const { scene } = this.#parts;
    const [wide, high] = [this.#mm("width-mm"), this.#mm("height-mm")];
    for (const old of [this.#parts.top, this.#parts.sides]) {
      if (!old) continue;
      scene.remove(old);
      old.geometry.dispose();
    }
    this.#parts.top = new Mesh(faceOf(this.#three, this.#mesh, wide, high), this.#parts.top?.material ?? new MeshLambertMaterial());
    this.#parts.sides = new Mesh(sidesOf(this.#three, this.#mesh, wide, high), this.#parts.sides?.material ?? new MeshLambertMaterial({ color: SIDE, side: 2 }));
    scene.add(this.#parts.top, this.#parts.sides);
    this.#rise(this.#shown.high);
  }

  #rise(times) {
    this.#shown.high = times;
    this.#parts.top.scale.y = times;
    this.#parts.sides.scale.y = times;
  }

  // ---- the colours of the wood, and what is laid over it ----------------------------------------------

  #paint() {
    const { columns, rows } = this.#map;
    const scale = Math.min(TEXTURE_PX / Math.max(columns, rows), 8);
    const canvas = document.createElement("canvas");
    canvas.width = Math.round(columns * scale);
    canvas.height = Math.round(rows * scale);
    const brush = canvas.getContext("2d");
    brush.imageSmoothingQuality = "high";
    brush.drawImage(this.#wood(), 0, 0, canvas.width, canvas.height);
    if (this.#shown.bits && this.#over.bits) {
      brush.imageSmoothingEnabled = false;
      brush.globalAlpha = 0.72;
      brush.drawImage(this.#lastBits(), 0, 0, canvas.width, canvas.height);
      brush.globalAlpha = 1;
    }
    if (this.#shown.hand && this.#over.hand) this.#paintHand(brush, canvas);
    const { CanvasTexture, SRGBColorSpace, LinearFilter, LinearMipmapLinearFilter } = this.#three;
    this.#parts.paint?.dispose();
    const paint = new CanvasTexture(canvas);
    paint.colorSpace = SRGBColorSpace;
    paint.minFilter = LinearMipmapLinearFilter;
    paint.magFilter = LinearFilter;
    paint.anisotropy = Math.min(8, this.#parts.renderer.capabilities.getMaxAnisotropy());
    this.#parts.paint = paint;
    this.#parts.top.material.map = paint;
    this.#parts.top.material.needsUpdate = true;
  }

  #wood() {
    const { columns, rows, heights, low } = this.#map;
    return picture(columns, rows, (k, bytes) => {
      const stands = heights[k] > -STANDS_MM;
      const deep = low < 0 ? Math.min(1, heights[k] / low) : 0;
      for (let part = 0; part < 3; part++) {
        const high = WASTE_HIGH[part];
        bytes[4 * k + part] = stands ? PRINTS[part] : high + (WASTE_DEEP[part] - high) * deep;
      }
      bytes[4 * k + 3] = 255;
    });
  }

  #lastBits() {
    const { columns, rows, last } = this.#over.bits;
    const tints = this.#json("tints", []).map((hex) => [...[1, 3, 5].map((at) => parseInt(hex.slice(at, at + 2), 16)), 255]);
    return picture(columns, rows, (k, bytes) => {
      if (last[k] && tints.length) bytes.set(tints[(last[k] - 1) % tints.length], 4 * k);
    });
  }

  #paintHand(brush, canvas) {
    const [x, y] = [canvas.width / this.#mm("width-mm"), canvas.height / this.#mm("height-mm")];
    brush.fillStyle = HAND_FILL;
    brush.strokeStyle = HAND_LINE;
    brush.lineWidth = Math.max(1.5, canvas.width / 1200);
    brush.lineJoin = "round";
    brush.beginPath();
    for (const ring of this.#over.hand.areas.flat()) {
      ring.forEach((at, k) => brush[k ? "lineTo" : "moveTo"](at[0] * x, at[1] * y));
      brush.closePath();
    }
    brush.fill("evenodd");
    brush.stroke();
    brush.lineWidth *= 1.6;
    for (const [across, down] of this.#over.hand.narrow) {
      brush.beginPath();
      brush.arc(across * x, down * y, Math.max(4, canvas.width / 220), 0, 2 * Math.PI);
      brush.stroke();
    }
  }

  // ---- on the screen --------------------------------------------------------------------------------

  #ask() {
    if (!this.#parts?.top || this.#frame) return;
    this.#frame = requestAnimationFrame(() => {
      this.#frame = 0;
      if (this.#parts && this.isConnected) this.#draw();
    });
  }

  #draw() {
    const { renderer, scene, camera } = this.#parts;
    const [wide, high] = [this.clientWidth, this.clientHeight];
    if (!wide || !high) return;
    renderer.setSize(wide, high, false);
    camera.aspect = wide / high;
    this.#place();
    const began = performance.now();
    renderer.render(scene, camera);
    this.#placePins();
    if (this.drawn) return;
    // Only what is read back is known to be drawn.
    const graphics = renderer.getContext();
    graphics.readPixels(0, 0, 1, 1, graphics.RGBA, graphics.UNSIGNED_BYTE, new Uint8Array(4));
    const { columns, rows } = this.#mesh;
    if (performance.now() - began > SLOW_MS && Math.max(columns, rows) >= 2 * LEAST_SQUARES) {
      this.#mesh = halved(this.#mesh);
      this.#shape();
      this.#ask();
      return;
    }
    this.drawn = true;
    this.dispatchEvent(new CustomEvent("relief-drawn", { bubbles: true }));
  }

  // So far away that the whole block fits as it is seen at first; turning it does not bring it nearer.
  #distance() {
    const half = Math.tan((OPENING_DEG / 2) * (Math.PI / 180)) * (1 - AIR);
    const { turn, tilt } = AT_FIRST;
    const [wide, high] = [this.#mm("width-mm") / 2, this.#mm("height-mm") / 2];
    let distance = 0;
    for (const [x, y] of [[-wide, -high], [wide, -high], [-wide, high], [wide, high]]) {
      const right = x * Math.cos(turn) - y * Math.sin(turn);
      const towards = x * Math.sin(turn) + y * Math.cos(turn);
      const reach = Math.max(Math.abs(right) / this.#parts.camera.aspect, Math.abs(towards) * Math.sin(tilt));
      distance = Math.max(distance, reach / half + towards * Math.cos(tilt));
    }
    return distance / this.#view.times;
  }

  #place() {
    const { camera } = this.#parts;
    const { turn, tilt, x, y } = this.#view;
    const distance = this.#distance();
    camera.position.set(
      x + distance * Math.cos(tilt) * Math.sin(turn),
      distance * Math.sin(tilt),
      y + distance * Math.cos(tilt) * Math.cos(turn),
    );
    camera.lookAt(x, 0, y);
    camera.near = distance / 50;
    camera.far = distance + 4 * Math.hypot(this.#mm("width-mm"), this.#mm("height-mm"));
    camera.updateProjectionMatrix();
    camera.updateMatrixWorld();
  }

  // ---- pins -----------------------------------------------------------------------------------------

  #drawPins() {
    if (!this.over) return;
    const before = new Map([...this.over.children].map((pin) => [pin.dataset.key, pin]));
    for (const told of this.#json("pins", [])) {
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

  #placePins() {
    const at = new this.#three.Vector3();
    for (const pin of this.over.children) {
      at.set(Number(pin.dataset.x) - this.#mm("width-mm") / 2, 0, Number(pin.dataset.y) - this.#mm("height-mm") / 2);
      at.project(this.#parts.camera);
      const [x, y] = [((at.x + 1) / 2) * this.clientWidth, ((1 - at.y) / 2) * this.clientHeight];
      pin.style.transform = `translate(${x}px, ${y}px)`;
    }
  }

  // ---- hands ----------------------------------------------------------------------------------------

  #listen() {
    this.canvas.addEventListener("keydown", this.#key);
    this.canvas.addEventListener("pointerdown", this.#down);
    this.canvas.addEventListener("pointermove", this.#drag);
    for (const name of ["pointerup", "pointercancel"]) {
      this.canvas.addEventListener(name, (event) => this.#pointers.delete(event.pointerId));
    }
    this.canvas.addEventListener("wheel", this.#wheel, { passive: false });
    this.canvas.addEventListener("contextmenu", (event) => event.preventDefault());
  }

  #key = (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (way && event.shiftKey) {
      const step = MOVE * 2 * this.#distance() * Math.tan((OPENING_DEG / 2) * (Math.PI / 180));
      this.#move(way[0] * step, way[1] * step);
    } else if (way) this.#turn(-way[0] * TURN, -way[1] * TURN);
    else if (event.key === "+" || event.key === "=") this.#nearer(NEARER);
    else if (event.key === "-") this.#nearer(1 / NEARER);
    else if (event.key === "Home" || event.key === "0") this.set("home");
    else return;
    event.preventDefault();
    event.stopPropagation();
    this.#ask();
  };

  #down = (event) => {
    this.canvas.focus({ preventScroll: true });
    this.canvas.setPointerCapture(event.pointerId);
    this.#pointers.set(event.pointerId, { x: event.clientX, y: event.clientY });
  };

  // One finger or the mouse turns; two fingers, or the mouse with Shift or its other button, move and come nearer.
  #drag = (event) => {
    const before = this.#pointers.get(event.pointerId);
    if (!before) return;
    const now = { x: event.clientX, y: event.clientY };
    const [right, down] = [now.x - before.x, now.y - before.y];
    const other = [...this.#pointers].find(([id]) => id !== event.pointerId)?.[1];
    const scale = (2 * this.#distance() * Math.tan((OPENING_DEG / 2) * (Math.PI / 180))) / this.clientHeight;
    if (other) {
      const [was, is] = [before, now].map((at) => Math.hypot(at.x - other.x, at.y - other.y));
      if (was > 0) this.#nearer(is / was);
      this.#move((-right / 2) * scale, (-down / 2) * scale);
    } else if (event.shiftKey || event.buttons & 2) this.#move(-right * scale, -down * scale);
    else this.#turn((-right / this.clientWidth) * Math.PI, (down / this.clientHeight) * Math.PI * 0.6);
    this.#pointers.set(event.pointerId, now);
    this.#ask();
  };

  #wheel = (event) => {
    event.preventDefault();
    this.#nearer(NEARER ** (-Math.sign(event.deltaY) * Math.min(1, Math.abs(event.deltaY) / 60)));
    this.#ask();
  };

  #turn(turn, tilt) {
    this.#view.turn = (this.#view.turn + turn) % (2 * Math.PI);
    this.#view.tilt = Math.min(STEEPEST, Math.max(FLATTEST, this.#view.tilt + tilt));
  }

  #nearer(times) {
    this.#view.times = Math.min(40, Math.max(0.5, this.#view.times * times));
  }

  // Along the screen, over the block and no farther.
  #move(right, down) {
    const { turn, tilt } = this.#view;
    const away = down / Math.max(0.35, Math.sin(tilt));
    const [wide, high] = [this.#mm("width-mm") / 2, this.#mm("height-mm") / 2];
    const x = this.#view.x + right * Math.cos(turn) + away * Math.sin(turn);
    const y = this.#view.y - right * Math.sin(turn) + away * Math.cos(turn);
    this.#view.x = Math.min(wide, Math.max(-wide, x));
    this.#view.y = Math.min(high, Math.max(-high, y));
  }

  // ---- the words under it ---------------------------------------------------------------------------

  #sayWords() {
    sayWords(this.#parts && this.#shown);
  }

  sayWords() {
    this.#sayWords();
  }

  #mm(name) {
    return Number(this.getAttribute(name));
  }

  #json(name, otherwise) {
    const text = this.getAttribute(name);
    return text ? JSON.parse(text) : otherwise;
  }
}

function canDraw() {
  const canvas = document.createElement("canvas");
  const context = canvas.getContext("webgl2");
  context?.getExtension("WEBGL_lose_context")?.loseContext();
  return Boolean(context);
}

async function taken(address, how) {
  if (!address) return null;
  const answer = await fetch(address);
  if (!answer.ok) throw new Error(`${address}: ${answer.status}`);
  return answer[how]();
}

// A picture whose pixels `paint` fills in: it gets a pixel's number, and all bytes, four a pixel.
function picture(columns, rows, paint) {
  const canvas = document.createElement("canvas");
  canvas.width = columns;
  canvas.height = rows;
  const brush = canvas.getContext("2d");
  const image = brush.createImageData(columns, rows);
  for (let k = 0; k < columns * rows; k++) paint(k, image.data);
  brush.putImageData(image, 0, 0);
  return canvas;
}

// The words under the relief are there only while it can be turned, and say what is laid over it.
function sayWords(shown) {
  for (const words of document.querySelectorAll("[data-relief-words]")) words.hidden = !shown;
  if (!shown) return;
  for (const word of document.querySelectorAll("[data-relief][aria-pressed]")) {
    const name = word.dataset.relief;
    const on = name.startsWith("high-") ? shown.high === Number(name.slice(5)) : shown[name];
    word.setAttribute("aria-pressed", String(Boolean(on)));
  }
}

customElements.define("relief-view", ReliefView);

document.addEventListener("click", (event) => {
  const word = event.target.closest?.("[data-relief]");
  if (word) document.querySelector("relief-view")?.set(word.dataset.relief);
});

// "Show" at a finding brings its place near.
document.addEventListener("click", (event) => {
  const word = event.target.closest?.("[data-show-pin]");
  if (word && document.querySelector("relief-view")?.showPin(word.dataset.showPin)) {
    document.querySelector("relief-view").scrollIntoView({ block: "nearest" });
  }
});

// A refresh brings the words as the server has them, which knows nothing of how the relief is shown.
document.addEventListener("htmx:after:swap", () => document.querySelector("relief-view")?.sayWords());
