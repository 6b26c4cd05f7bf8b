// A word of the trade, marked in a sentence, says what it means while it is pointed at or has the focus: the
// meaning that the page lists (aria-describedby) is laid beside the word. Escape takes it away.

const AWAY_PX = 8;
const WAIT_MS = 150; // so that a pointer on its way elsewhere opens nothing

const note = Object.assign(document.createElement("p"), { className: "meaning", hidden: true });
note.setAttribute("aria-hidden", "true"); // it is read out with the word already
let waiting = 0;

function lay(word) {
  const meaning = document.getElementById(word.getAttribute("aria-describedby"));
  if (!meaning) return;
  if (!note.isConnected) document.body.append(note);
  note.replaceChildren(Object.assign(document.createElement("strong"), { textContent: word.textContent }), `: ${meaning.textContent}.`);
  note.hidden = false;
  const at = word.getClientRects()[0];
  const x = Math.min(at.left, document.documentElement.clientWidth - note.offsetWidth - AWAY_PX);
  const below = at.bottom + AWAY_PX;
  const fits = below + note.offsetHeight < document.documentElement.clientHeight;
  note.style.left = `${Math.max(x, AWAY_PX)}px`;
  note.style.top = `${fits ? below : at.top - AWAY_PX - note.offsetHeight}px`;
}

function take() {
  clearTimeout(waiting);
  note.hidden = true;
}

const termOf = (event) => event.target.closest?.(".term");

document.addEventListener("pointerover", (event) => {
  const word = termOf(event);
  clearTimeout(waiting);
  if (word) waiting = setTimeout(() => lay(word), WAIT_MS);
});
document.addEventListener("pointerout", (event) => termOf(event) && take());
document.addEventListener("focusin", (event) => (termOf(event) ? lay(termOf(event)) : take()));
document.addEventListener("focusout", (event) => termOf(event) && take());
document.addEventListener("scroll", take, { capture: true, passive: true });
document.addEventListener("keydown", (event) => event.key === "Escape" && take());
