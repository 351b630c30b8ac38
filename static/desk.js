// Keys on the case of a report, only where the steward asked for them; a verdict that needs words goes to them first.
"use strict";
(() => {
  const shown = document.querySelector(".keys");
  const box = document.getElementById("keys");
  if (!shown || !box) return;
  const kept = "desk:keys";
  try { box.checked = localStorage.getItem(kept) === "yes"; } catch { /* forbidden: off until ticked */ }
  shown.hidden = false;
  box.addEventListener("change", () => {
    try { localStorage.setItem(kept, box.checked ? "yes" : "no"); } catch { /* forbidden: for this page alone */ }
  });
  document.addEventListener("keydown", (event) => {
    if (!box.checked || event.ctrlKey || event.metaKey || event.altKey) return;
    const typing = event.target instanceof HTMLElement && event.target.closest("input[type=text], textarea, select");
    if (typing) return;
    const to = document.querySelector(`[data-key="${CSS.escape(event.key)}"]`);
    if (!to) return;
    event.preventDefault();
    const reason = document.getElementById("reason");
    if (to.closest("details") && reason && !reason.value) {
      to.closest("details").open = true;
      reason.focus();
      return;
    }
    to.click();
  });
})();
