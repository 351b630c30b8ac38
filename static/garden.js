// Lists of a whole garden: one answer copied to the rows below that have none yet, and a file of the device looked over before it is sent.
// The pages work without it.
"use strict";
(() => {
  const form = document.querySelector("form[data-draft]");
  if (!form) return;
  const rows = [...form.querySelectorAll(".list-row")];
  const fields = (row) => [...row.querySelectorAll("select, input")];
  // Names of a row's fields begin with the plant; what follows says which question it is.
  const question = (field) => field.name.slice(field.name.indexOf("_") + 1);
  rows.forEach((row, at) => {
    if (at === rows.length - 1) return;
    const button = document.createElement("button");
    button.type = "button";
    button.className = "plain copy-down";
    button.textContent = "↓";
    const words = row.querySelector("label").textContent;
    button.setAttribute("aria-label", `Copy what is said of ${words} to the rows below that say nothing`);
    button.title = "Copy to the rows below that say nothing";
    button.addEventListener("click", () => {
      const said = fields(row).filter((field) => field.value);
      for (const below of rows.slice(at + 1)) {
        const theirs = fields(below);
        if (theirs.some((field) => field.value)) continue;
        for (const field of said) {
          const same = theirs.find((other) => question(other) === question(field));
          if (same) same.value = field.value;
        }
      }
      form.dispatchEvent(new Event("input", { bubbles: true }));
    });
    row.querySelector("select").after(button);
  });
  for (const box of form.querySelectorAll("[data-file-for]")) {
    const file = box.querySelector("input");
    const text = document.getElementById(box.dataset.fileFor);
    box.hidden = false;
    file.addEventListener("change", async () => {
      const [chosen] = file.files;
      if (!chosen) return;
      text.value = await chosen.text();
      text.dispatchEvent(new Event("input", { bubbles: true }));
    });
  }
})();
