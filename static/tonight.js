// Keeps tonight's plan and its ticks on this device and counts what is left. The page works without it.
(() => {
  "use strict";
  // Only where the browser trusts the address: https, or this machine.
  if ("serviceWorker" in navigator) navigator.serviceWorker.register("/worker.js", { scope: "/cold-night" }).catch(() => { /* then the plan lives as long as the page */ });
  const list = document.querySelector("ol.tonight");
  const tally = document.getElementById("tally");
  if (!list || !tally) return;
  const boxes = [...list.querySelectorAll("input[type=checkbox]")];
  const key = "tonight:" + list.dataset.plan;
  const remembered = () => { try { return JSON.parse(localStorage.getItem(key) || "[]"); } catch { return []; } };
  const say = () => {
    const left = boxes.filter((box) => !box.checked);
    const minutes = left.reduce((sum, box) => sum + Number(box.dataset.minutes), 0);
    tally.textContent = left.length === 0 ? "All done. Sleep well." : `${boxes.length - left.length} of ${boxes.length} done · ${Math.round(minutes)} min left`;
    tally.hidden = false;
  };
  const done = new Set(remembered());
  boxes.forEach((box) => { box.checked = done.has(box.id); });
  list.addEventListener("change", () => {
    try { localStorage.setItem(key, JSON.stringify(boxes.filter((box) => box.checked).map((box) => box.id))); } catch { /* no room: the ticks live as long as the page */ }
    say();
  });
  say();
})();
