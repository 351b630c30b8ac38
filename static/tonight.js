// Keeps the ticks of a plan on this device and counts what is left. The page works without it.
(() => {
  "use strict";
  // Only where the browser trusts the address: https, or this machine.
  if ("serviceWorker" in navigator) navigator.serviceWorker.register("/worker.js", { scope: "/cold-night" }).catch(() => { /* then the plan lives as long as the page */ });
  // The date of this evening where the reader is; it can be changed.
  const date = document.querySelector("input[data-today]");
  if (date && !date.value) {
    const now = new Date();
    date.value = [now.getFullYear(), now.getMonth() + 1, now.getDate()].map((part) => String(part).padStart(2, "0")).join("-");
  }
  const lists = [...document.querySelectorAll(".tonight")];
  const list = document.querySelector("[data-plan]") || lists[0];
  const tally = document.getElementById("tally");
  if (!list || !tally) return;
  const boxes = lists.flatMap((each) => [...each.querySelectorAll("input[type=checkbox]")]);
  const key = "tonight:" + (list.dataset.plan || "");
  const remembered = () => { try { return JSON.parse(localStorage.getItem(key) || "[]"); } catch { return []; } };
  const say = () => {
    const left = boxes.filter((box) => !box.checked);
    const minutes = left.reduce((sum, box) => sum + Number(box.dataset.minutes), 0);
    tally.textContent = left.length === 0 ? "All done. Sleep well." : `${boxes.length - left.length} of ${boxes.length} done · ${Math.round(minutes)} min left`;
    tally.hidden = false;
  };
  const done = new Set(remembered());
  boxes.forEach((box) => { box.checked = done.has(box.id); });
  lists.forEach((each) => each.addEventListener("change", () => {
    try { localStorage.setItem(key, JSON.stringify(boxes.filter((box) => box.checked).map((box) => box.id))); } catch { /* no room: the ticks live as long as the page */ }
    say();
  }));
  say();
})();
