// <drop-picture>: a picture may be dropped anywhere on the page, or chosen; it goes up with how far it is.
// Attributes: sending (a sentence with {name} and {percent}), lost, most-bytes and too-large (what is said then).

class DropPicture extends HTMLElement {
  connectedCallback() {
    this.form = this.querySelector("form");
    this.file = this.form.querySelector("input[type='file']");
    this.line = this.querySelector(".refusal");
    this.file.addEventListener("change", () => this.file.files.length && this.#send(this.file.files[0]));
    this.form.addEventListener("submit", (event) => {
      event.preventDefault();
      this.file.click();
    });
    document.addEventListener("dragover", this.#over);
    document.addEventListener("dragleave", this.#leave);
    document.addEventListener("drop", this.#drop);
  }

  disconnectedCallback() {
    document.removeEventListener("dragover", this.#over);
    document.removeEventListener("dragleave", this.#leave);
    document.removeEventListener("drop", this.#drop);
  }

  #over = (event) => {
    if (![...event.dataTransfer.types].includes("Files")) return;
    event.preventDefault();
    document.body.classList.add("dropping");
  };

  #leave = (event) => {
    if (!event.relatedTarget) document.body.classList.remove("dropping");
  };

  #drop = (event) => {
    // Another field for files takes what is dropped on it.
    if (event.target.closest?.("input[type='file']") && !this.contains(event.target)) return;
    document.body.classList.remove("dropping");
    const [file] = event.dataTransfer.files;
    if (!file) return;
    event.preventDefault();
    this.#send(file);
  };

  #send(file) {
    // The server would refuse it too, after minutes of sending.
    if (file.size > Number(this.getAttribute("most-bytes"))) {
      this.file.value = "";
      this.#refuse("");
      this.line.append(Object.assign(document.createElement("p"), { className: "said-back" }));
      this.line.firstChild.textContent = this.getAttribute("too-large");
      return;
    }
    const body = new FormData(this.form);
    body.set(this.file.name, file, file.name);
    const way = new XMLHttpRequest();
    way.open("POST", this.form.action);
    way.setRequestHeader("HX-Request", "true");
    way.upload.addEventListener("progress", (event) => {
      const percent = event.total ? Math.round((100 * event.loaded) / event.total) : 0;
      this.#say("sending", { name: file.name, percent });
    });
    way.addEventListener("load", () => {
      const to = way.getResponseHeader("HX-Redirect");
      if (to) location.assign(to);
      else if (way.status < 400 && way.responseURL !== this.form.action) location.assign(way.responseURL);
      else this.#refuse(way.responseText);
      this.file.value = "";
    });
    way.addEventListener("error", () => this.#say("lost", {}));
    way.send(body);
  }

  #say(name, figures) {
    this.line.textContent = (this.getAttribute(name) ?? "").replace(/\{(\w+)\}/g, (_, key) => figures[key] ?? "");
  }

  // The server's part may hold a question (how wide is it?) with a form of its own.
  #refuse(html) {
    this.line.innerHTML = html;
    htmx.process(this.line);
    this.line.querySelector("input:not([type='hidden']), button")?.focus();
  }
}

customElements.define("drop-picture", DropPicture);
