// Keeps what is typed into a form marked data-draft on this device until it has been sent, and fills it in again after a lost
// connection, an expired sign-in or a closed page. The passphrase is never kept.
"use strict";
(() => {
  // Which draft was sent last; the page that says it arrived forgets it.
  const LAST = "draft-sent";
  if (document.querySelector("[data-sent]")) {
    try {
      localStorage.removeItem(localStorage.getItem(LAST) || "draft:report");
      localStorage.removeItem(LAST);
    } catch { /* forbidden: nothing was kept */ }
  }
  const form = document.querySelector("form[data-draft]");
  if (!form) return;
  const key = "draft:" + form.dataset.draft;
  // The nonce goes with the draft: a report that arrived though its answer was lost is known again when it is sent once more.
  const skip = new Set(["passphrase"]);
  const fields = () => [...form.elements].filter((field) => field.name && field.type !== "file" && !skip.has(field.name));
  const read = () => { try { return JSON.parse(localStorage.getItem(key) || "null"); } catch { return null; } };
  const kept = read();
  // What an address brings goes before the draft, except where the draft is of that address.
  const untouched = !form.querySelector(".has-error") && (!location.search || "anyAddress" in form.dataset);
  if (kept && untouched) {
    for (const field of fields()) {
      const values = kept[field.name];
      if (values === undefined) continue;
      if (field.type === "radio" || field.type === "checkbox") field.checked = values.includes(field.value);
      else if (field.type !== "hidden" || field.name === "nonce") field.value = values[0] ?? "";
    }
  }
  const keep = () => {
    const values = {};
    for (const field of fields()) {
      if ((field.type === "radio" || field.type === "checkbox") && !field.checked) continue;
      if (field.value) (values[field.name] ??= []).push(field.value);
    }
    try { localStorage.setItem(key, JSON.stringify(values)); } catch { /* full or forbidden: the form still works */ }
  };
  form.addEventListener("input", keep);
  // Without a connection the form waits here and goes by itself when the signal is back; the nonce makes a second arrival harmless.
  form.addEventListener("submit", (event) => {
    keep();
    try { localStorage.setItem(LAST, key); } catch { /* forbidden: nothing is kept */ }
    if (navigator.onLine) return;
    event.preventDefault();
    const words = document.createElement("p");
    words.className = "note";
    words.setAttribute("role", "status");
    words.textContent = "No connection. What you wrote is kept on this device and goes as soon as the signal is back; leave this page open.";
    form.append(words);
    addEventListener("online", () => form.submit(), { once: true });
  });
})();
