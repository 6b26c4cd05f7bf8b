// What is decided goes to the server; what it refuses is said beside the control; what happened is announced.

export function announce(said) {
  const line = document.getElementById("announce");
  if (!line || !said) return;
  line.textContent = said;
  clearTimeout(announce.timer);
  announce.timer = setTimeout(() => (line.textContent = ""), 6000);
}

// Post one act; true when it was taken.
export async function act(url, fields) {
  const answer = await fetch(url, {
    method: "POST",
    headers: { "HX-Request": "true" },
    body: new URLSearchParams(fields),
  }).catch(() => null);
  if (answer?.ok) {
    let told = {};
    try {
      told = JSON.parse(answer.headers.get("HX-Trigger") ?? "{}");
    } catch {
      // A bare name carries no words.
    }
    document.body.dispatchEvent(new CustomEvent("print-changed", { detail: told["print-changed"] ?? {} }));
    return true;
  }
  const part = document.createElement("template");
  part.innerHTML = answer ? await answer.text() : document.body.dataset.lost ?? "";
  announce(part.content.textContent.trim());
  return false;
}
