// <print-stream>: listens to the print. When something changed, by whatever hand, the parts of the page are
// fetched anew and morphed in, so that focus, scroll and what is being typed stay. While work is under way the
// status sentence tells how far it is. Attributes: src, versions (JSON), text-hash, words (JSON of sentences).

const AGAIN_MS = 2000;

class PrintStream extends HTMLElement {
  #source = null;
  #busy = false;
  #again = false;
  #heard = false;
  #work = null;

  connectedCallback() {
    if (this.#source) return;
    this.words = JSON.parse(this.getAttribute("words") ?? "{}");
    this.known = this.getAttribute("known") ?? "";
    this.#listen();
    document.body.addEventListener("print-changed", this.refresh);
  }

  disconnectedCallback() {
    queueMicrotask(() => {
      if (this.isConnected) return;
      this.#source?.close();
      this.#source = null;
      document.body.removeEventListener("print-changed", this.refresh);
    });
  }

  #listen() {
    this.#source = new EventSource(this.getAttribute("src"));
    this.#source.addEventListener("changed", (event) => {
      const told = JSON.parse(event.data);
      const now = JSON.stringify([told.versions, told.text_hash]);
      if (now === this.known) return;
      const first = !this.#heard;
      this.#heard = true;
      this.known = now;
      // The first word after opening the page only says what the page shows already.
      if (first && told.text_hash === this.getAttribute("text-hash") && this.#same(told.versions)) return;
      this.refresh();
    });
    this.#source.addEventListener("work", (event) => this.#tellWork(JSON.parse(event.data)));
    this.#source.addEventListener("trouble", (event) => this.#trouble(JSON.parse(event.data)));
    this.#source.addEventListener("open", () => {
      if (this.lost) this.refresh();
      this.lost = false;
      this.#tell("lost", "");
    });
    this.#source.addEventListener("error", () => {
      this.lost = true;
      this.#tell("lost", this.words.lost ?? "");
      // A server that was started anew refuses until its address is opened: the browser gives up then, we do not.
      if (this.#source?.readyState === EventSource.CLOSED) setTimeout(() => this.#source && this.#listen(), AGAIN_MS);
    });
  }

  #same(versions) {
    const page = JSON.parse(this.getAttribute("versions") ?? "{}");
    return Object.keys(versions).every((stage) => versions[stage] === page[stage]);
  }

  refresh = async () => {
    if (this.#busy) {
      this.#again = true;
      return;
    }
    this.#busy = true;
    try {
      do {
        this.#again = false;
        const address = location.pathname + location.search;
        await htmx.ajax("GET", address, { target: "#station", swap: "outerMorph" });
        // What was chosen meanwhile, such as a shape, stands in the address and not in what was fetched.
        if (address !== location.pathname + location.search) this.#again = true;
        // What was fetched may have been written while the work went on that has ended since.
        if (this.#work) this.#tellWork(this.#work);
      } while (this.#again);
    } finally {
      this.#busy = false;
    }
  };

  #tellWork(work) {
    this.#work = work;
    const running = Boolean(work.running);
    document.getElementById("working")?.toggleAttribute("hidden", !running);
    document.getElementById("settled")?.toggleAttribute("hidden", running);
    if (running) this.#tell("work", this.#sentence(work));
  }

  #sentence(work) {
    const stage = this.words.stages?.[work.stage] ?? this.words.any ?? "";
    const left = work.seconds_left;
    let key = "begun";
    if (work.done_percent !== null && work.done_percent !== undefined) key = "under_way";
    if (left !== null && left !== undefined) key = left < 2 ? "nearly" : left < 90 ? "seconds" : "minutes";
    const figures = {
      stage,
      percent: Math.round(work.done_percent ?? 0),
      seconds: Math.ceil(left),
      minutes: Math.round(left / 60),
    };
    return (this.words[key] ?? "").replace(/\{(\w+)\}/g, (_, name) => figures[name] ?? "");
  }

  #trouble(said) {
    const line = document.getElementById("trouble");
    // A page that was asked for while there was trouble may come after the word that it is over; what is told
    // there otherwise, such as that the work was stopped, comes back with the page.
    if (!said && (this.#busy || (line && !line.hidden))) this.refresh();
    else this.#tell("trouble", said);
  }

  #tell(id, said) {
    const line = document.getElementById(id);
    if (!line) return;
    if (line.textContent !== said) line.textContent = said;
    line.toggleAttribute("hidden", !said);
  }
}

customElements.define("print-stream", PrintStream);
