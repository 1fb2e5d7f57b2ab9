"use strict";
(() => {
  const list = document.getElementById("items");
  const sheet = document.getElementById("sheet");
  const picture = sheet.querySelector("svg");
  const items = list ? [...list.children] : [];
  const calm = matchMedia("(prefers-reduced-motion: reduce)").matches ? "auto" : "smooth";

  // Ticks are kept in this browser under the hashes of the compared files. A page opened where
  // nothing may be kept works all the same.
  const memory = "buzzout " + document.body.dataset.memory;
  const recall = (name, otherwise) => { try { return JSON.parse(localStorage.getItem(name)) ?? otherwise; } catch { return otherwise; } };
  const keep = (name, value) => { try { localStorage.setItem(name, JSON.stringify(value)); } catch { /* not kept */ } };

  const tickOf = (item) => item.querySelector(".tick");
  const mark = (item) => item.classList.toggle("done", tickOf(item).checked);
  const ticked = new Set(recall(memory, []));
  for (const item of items) {
    tickOf(item).checked = ticked.has(item.dataset.id);
    mark(item);
    tickOf(item).addEventListener("change", () => {
      mark(item);
      keep(memory, items.filter((each) => tickOf(each).checked).map((each) => each.dataset.id));
      filter();
    });
  }

  // Order and choice.
  const order = document.getElementById("order");
  const words = document.getElementById("words");
  const hideDone = document.getElementById("hide-done");
  const tally = document.getElementById("tally");
  const compare = new Intl.Collator("en", { numeric: true }).compare;
  function sort() {
    const key = order.value;
    const byNumber = (a, b) => a.dataset.number - b.dataset.number;
    items.sort((a, b) => (key === "number" ? 0 : compare(a.dataset[key], b.dataset[key])) || byNumber(a, b));
    list.append(...items);
  }
  function filter() {
    const shown = new Set([...document.querySelectorAll(".show:checked")].map((box) => box.value));
    const wanted = words.value.trim().toLowerCase();
    let open = 0, visible = 0;
    for (const item of items) {
      const done = tickOf(item).checked;
      item.hidden = !shown.has(item.dataset.severity) || (done && hideDone.checked) ||
        !item.textContent.toLowerCase().includes(wanted);
      visible += !item.hidden;
      open += !done;
    }
    tally.textContent = `${visible} of ${items.length} shown, ${open} not ticked`;
  }
  if (list) {
    order.addEventListener("change", sort);
    words.addEventListener("input", filter);
    hideDone.addEventListener("change", filter);
    for (const box of document.querySelectorAll(".show")) box.addEventListener("change", filter);
    filter();
  }

  const closeups = [...document.querySelectorAll(".closeup")];
  document.getElementById("closeups")?.addEventListener("click", () => {
    const open = closeups.some((each) => !each.open);
    for (const each of closeups) each.open = open;
  });

  // Where the drawing stands, and what of the charts is shown.
  const bench = document.querySelector(".bench"), drawing = document.getElementById("drawing");
  const stands = document.getElementById("stands");
  function stand(where) {
    bench.dataset.stands = where;
    if (where === "above") bench.prepend(drawing); else bench.append(drawing);
  }
  stands.value = recall("buzzout drawing stands", "above");
  if (!stands.value) stands.value = "above";
  stand(stands.value);
  stands.addEventListener("change", () => { stand(stands.value); keep("buzzout drawing stands", stands.value); });
  addEventListener("beforeprint", () => stand("below")); // on paper the list comes first
  addEventListener("afterprint", () => stand(stands.value));
  document.getElementById("only-off")?.addEventListener("change", (event) =>
    document.getElementById("charts").classList.toggle("off-only", event.target.checked));

  // The drawing: size, and from a finding to its place and back.
  let zoom = 1, from = null;
  const wide = picture.viewBox.baseVal.width;
  const readable = () => Math.max(1, 1.4 * wide / sheet.clientWidth); // small print gets 11 px high
  function size(next) {
    const box = sheet.getBoundingClientRect();
    const x = (sheet.scrollLeft + box.width / 2) / zoom, y = (sheet.scrollTop + box.height / 2) / zoom;
    zoom = Math.min(Math.max(next, 1), 16);
    picture.style.width = `${zoom * 100}%`;
    sheet.scrollTo(x * zoom - box.width / 2, y * zoom - box.height / 2);
  }
  document.getElementById("larger").addEventListener("click", () => size(zoom * 1.5));
  document.getElementById("smaller").addEventListener("click", () => size(zoom / 1.5));
  document.getElementById("whole").addEventListener("click", () => size(1));
  document.getElementById("readable").addEventListener("click", () => size(readable()));
  sheet.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && from) { arrive(from); return; }
    const to = { "+": zoom * 1.5, "=": zoom * 1.5, "-": zoom / 1.5, "0": 1 }[event.key];
    if (to && !event.ctrlKey && !event.metaKey) { size(to); event.preventDefault(); }
  });

  const marksOf = (number) => [...picture.querySelectorAll(`.f${number}`)];
  function light(number) {
    for (const lit of document.querySelectorAll(".lit")) lit.classList.remove("lit");
    marksOf(number).forEach((each) => each.classList.add("lit"));
    document.getElementById(`finding-${number}`)?.classList.add("lit");
  }
  function show(number) {
    light(number);
    from = number;
    const marks = marksOf(number);
    if (!marks.length) return;
    drawing.scrollIntoView({ block: "start" });
    size(readable());
    const spots = marks.map((each) => each.getBoundingClientRect());
    const left = Math.min(...spots.map((s) => s.left)), right = Math.max(...spots.map((s) => s.right));
    const top = Math.min(...spots.map((s) => s.top)), bottom = Math.max(...spots.map((s) => s.bottom));
    const box = sheet.getBoundingClientRect();
    sheet.scrollBy({ left: (left + right) / 2 - box.left - box.width / 2, top: (top + bottom) / 2 - box.top - box.height / 2, behavior: calm });
    sheet.focus({ preventScroll: true });
  }
  for (const button of document.querySelectorAll(".find")) {
    button.hidden = !marksOf(button.dataset.number).length;
    button.addEventListener("click", () => show(button.dataset.number));
  }
  document.addEventListener("click", (event) => {
    const finding = event.target.closest?.("svg .finding");
    const number = finding && [...finding.classList].map((name) => /^f(\d+)$/.exec(name)).find(Boolean)?.[1];
    if (number) arrive(number);
  });
  function arrive(number) {
    const item = document.getElementById(`finding-${number}`);
    if (!item) return;
    light(number);
    item.hidden = false;
    item.scrollIntoView({ block: "center", behavior: calm });
    item.focus({ preventScroll: true });
  }
  for (const link of document.querySelectorAll("a.to")) link.addEventListener("click", (event) => {
    event.preventDefault();
    arrive(link.hash.replace("#finding-", ""));
  });
})();
