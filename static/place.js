// Lists towns while one is typed into the place box. The box works without it: words are looked up when the form is sent.
(() => {
  "use strict";
  const box = document.getElementById("place");
  if (!box) return;
  const list = document.createElement("ul");
  list.id = "place-list";
  list.className = "place-list";
  list.setAttribute("role", "listbox");
  list.setAttribute("aria-label", "Towns");
  list.hidden = true;
  box.after(list);
  for (const [name, value] of [["role", "combobox"], ["aria-autocomplete", "list"], ["aria-controls", list.id], ["aria-expanded", "false"]]) box.setAttribute(name, value);
  let at = -1;
  let asked = 0;
  let timer = 0;
  const items = () => [...list.children];
  const close = () => { list.hidden = true; list.replaceChildren(); at = -1; box.setAttribute("aria-expanded", "false"); box.removeAttribute("aria-activedescendant"); };
  const mark = (to) => {
    at = to;
    items().forEach((item, i) => item.setAttribute("aria-selected", String(i === at)));
    if (at < 0) box.removeAttribute("aria-activedescendant");
    else { box.setAttribute("aria-activedescendant", items()[at].id); items()[at].scrollIntoView({ block: "nearest" }); }
  };
  const take = (item) => { box.value = item.dataset.words; close(); box.dispatchEvent(new Event("change", { bubbles: true })); };
  const show = (places) => {
    close();
    places.forEach((place, i) => {
      const item = document.createElement("li");
      item.id = `place-${i}`;
      item.setAttribute("role", "option");
      item.setAttribute("aria-selected", "false");
      item.dataset.words = place.words;
      item.textContent = [place.name, place.region, place.country_name].filter((part, j, all) => part && all.indexOf(part) === j).join(", ");
      item.addEventListener("mousedown", (event) => { event.preventDefault(); take(item); });
      list.append(item);
    });
    if (places.length > 0) { list.hidden = false; box.setAttribute("aria-expanded", "true"); }
  };
  const ask = async () => {
    const typed = box.value.trim();
    const mine = ++asked;
    if (typed.length < 2) { close(); return; }
    try {
      const answer = await fetch(`/api/v1/places?limit=6&q=${encodeURIComponent(typed)}`);
      if (mine !== asked) return;
      show(answer.ok ? (await answer.json()).places : []);
    } catch { close(); /* no line: the words are looked up when the form is sent */ }
  };
  box.addEventListener("input", () => { clearTimeout(timer); timer = setTimeout(ask, 120); });
  box.addEventListener("blur", () => { asked++; clearTimeout(timer); close(); });
  box.addEventListener("keydown", (event) => {
    const count = items().length;
    if (event.key === "Escape") { close(); return; }
    if (count === 0) return;
    if (event.key === "ArrowDown") { event.preventDefault(); mark((at + 1) % count); }
    else if (event.key === "ArrowUp") { event.preventDefault(); mark((at + count - 1) % count); }
    else if (event.key === "Enter" && at >= 0) { event.preventDefault(); take(items()[at]); }
  });
})();
