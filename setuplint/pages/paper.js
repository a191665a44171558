"use strict";
// What is ticked, read and measured on a sheet or a card: kept on the device, and given out as a record.
(function () {
  const known = JSON.parse(document.getElementById("data").textContent);
  const place = "setuplint record " + known.craft + " " + known.fingerprint;
  const all = (choice, inside) => [...(inside || document).querySelectorAll(choice)];
  const byId = (name) => document.getElementById(name);
  let keeps = true, filled = {};

  function say(words) { byId("said").textContent = words; }

  function load() {
    let found = null;
    try { found = JSON.parse(localStorage.getItem(place)); } catch { keeps = false; }
    filled = { boxes: {}, measured: {}, sheet: {}, fields: {}, ...(keeps ? found : filled) };
  }

  // Another page of the same setup may have written since.
  function change(put) {
    load();
    put(filled);
    try { localStorage.setItem(place, JSON.stringify(filled)); } catch { keeps = false; }
    count();
  }

  function number(input) { return input.value.trim() === "" || input.validity.badInput ? null : Number(input.value.replace(",", ".")); }

  // -- boxes

  const boxes = all("article[data-mark]");
  function entry(into, box) {
    const mark = box.dataset.mark;
    into.boxes[mark] = { done: false, readings: {}, ...into.boxes[mark], box: Number(box.dataset.box) };
    return into.boxes[mark];
  }

  // A place in each cell for what is read instead of what stands there.
  function openReadings(box) {
    const button = box.querySelector("button.otherwise");
    button.setAttribute("aria-expanded", "true");
    button.hidden = true;
    for (const cell of all("td[data-row]", box)) {
      const { row, channel } = cell.dataset, key = row + ":" + channel;
      const input = document.createElement("input");
      Object.assign(input, { type: "number", step: "any", className: "blank read", autocomplete: "off" });
      input.setAttribute("aria-label", channel + ", line " + row + " of box " + box.dataset.box + ": reads");
      const had = (filled.boxes[box.dataset.mark] || { readings: {} }).readings[key];
      if (had !== undefined) input.value = had;
      input.addEventListener("input", () => change((into) => {
        const at = number(input), all = entry(into, box);
        input.setAttribute("aria-invalid", input.validity.badInput);
        if (at === null) delete all.readings[key]; else { all.readings[key] = at; all.done = false; }
        box.querySelector(".mark input").checked = all.done; // not as the card says: no tick
      }));
      (cell.firstElementChild || cell).append(" ", input);
    }
  }

  for (const box of boxes) {
    const tick = box.querySelector(".mark input");
    tick.addEventListener("change", () => change((into) => { entry(into, box).done = tick.checked; }));
    if (!all("td[data-row]", box).length) continue;
    const button = document.createElement("button");
    Object.assign(button, { type: "button", className: "otherwise", textContent: "Something reads otherwise" });
    button.setAttribute("aria-expanded", "false");
    button.setAttribute("aria-label", "Something reads otherwise in box " + box.dataset.box);
    button.addEventListener("click", () => { openReadings(box); box.querySelector("input.read").focus(); });
    box.querySelector(".what").append(button);
  }

  // -- the other places to fill in

  const places = [
    ["[data-measured]", (each, into) => {
      each.setAttribute("aria-invalid", each.validity.badInput);
      if (each.value.trim() === "") delete into.measured[each.dataset.measured]; else into.measured[each.dataset.measured] = number(each);
    }],
    ["[data-row][type=checkbox]", (each, into) => { row(into, each.dataset.row).done = each.checked; }],
    ["[data-read]", (each, into) => { row(into, each.dataset.read).read = each.value; }],
    ["[data-field]", (each, into) => { into.fields[each.dataset.field] = each.value; }],
  ];
  function row(into, key) { return (into.sheet[key] = { done: false, read: "", ...into.sheet[key] }); }
  for (const [choice, put] of places)
    for (const each of all(choice)) each.addEventListener("input", () => change((into) => put(each, into)));

  function show() {
    for (const box of boxes) {
      const had = filled.boxes[box.dataset.mark];
      box.querySelector(".mark input").checked = Boolean(had && had.done);
      for (const input of all("input.read", box)) input.value = "";
      if (had && Object.keys(had.readings).length && box.querySelector("button.otherwise:not([hidden])")) openReadings(box);
    }
    for (const each of all("[data-measured]")) each.value = filled.measured[each.dataset.measured] ?? "";
    for (const each of all("[data-row][type=checkbox]")) each.checked = Boolean((filled.sheet[each.dataset.row] || {}).done);
    for (const each of all("[data-read]")) each.value = (filled.sheet[each.dataset.read] || {}).read || "";
    for (const each of all("[data-field]"))
      each.value = filled.fields[each.dataset.field] ?? (each.dataset.field === "scale" ? "percent" : "");
  }

  function count() {
    const rows = all("[data-row][type=checkbox]"), ticks = boxes.length ? boxes.map((box) => box.querySelector(".mark input")) : rows;
    const done = ticks.filter((each) => each.checked).length;
    byId("count").textContent = done + " of " + ticks.length + (boxes.length ? " ticked" : " read back") +
      (keeps ? ", kept on this device" : "; NOT KEPT: this browser stores nothing for this page. Save before you leave.");
    for (const each of all("input[type=date]")) each.toggleAttribute("data-empty", !each.value);
    byId("text").value = record();
  }

  // -- what is given out

  function today() {
    const now = new Date(), two = (part) => String(part).padStart(2, "0");
    return now.getFullYear() + "-" + two(now.getMonth() + 1) + "-" + two(now.getDate());
  }

  function record() {
    const { by, on, scale, notes } = filled.fields;
    const marked = Object.entries(filled.boxes).filter(([, box]) => box.done || Object.keys(box.readings).length);
    const readings = (box) => Object.entries(box.readings).map(([key, read]) => {
      const cut = key.indexOf(":");
      return { row: Number(key.slice(0, cut)), channel: key.slice(cut + 1), read };
    });
    const measured = Object.entries(filled.measured).filter(([, value]) => typeof value === "number");
    const sheet = Object.entries(filled.sheet).filter(([, each]) => each.done || each.read);
    return JSON.stringify({
      record: 1, ...known, by: by || "", on: on || today(), scale: scale || "percent", notes: notes || "",
      boxes: marked.map(([mark, box]) => ({ box: box.box, mark, done: box.done, readings: readings(box) })).sort((a, b) => a.box - b.box),
      measured: Object.fromEntries(measured),
      sheet: sheet.map(([key, each]) => ({ row: key, done: each.done, read: each.read })),
    }, null, 1) + "\n";
  }

  byId("save").addEventListener("click", () => {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([record()], { type: "application/json" }));
    link.download = known.file.split(/[\\/]/).pop().replace(/\.toml$/, "") + ".record.json";
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 10000);
    say("Saved as " + link.download + ".");
  });

  byId("copy").addEventListener("click", async () => {
    try {
      await navigator.clipboard.writeText(record());
      say("Copied: paste it into a file or a message.");
    } catch {
      byId("text").closest("details").open = true;
      byId("text").select();
      say("This browser lets no page copy: the text is marked below, copy it from there.");
    }
  });

  // Twice, so that no thumb does it by chance.
  byId("clear").addEventListener("click", () => {
    const button = byId("clear");
    if (button.dataset.sure !== "yes") {
      button.dataset.sure = "yes";
      button.textContent = "Clear it for good?";
      say("All ticks, readings and numbers of this setup are cleared at the next press.");
      return;
    }
    button.dataset.sure = "no";
    button.textContent = "Clear it";
    filled = {};
    try { localStorage.removeItem(place); } catch { keeps = false; }
    load();
    show();
    count();
    say("Cleared.");
  });

  for (const each of all(".script")) each.hidden = false;
  load();
  try { localStorage.setItem("setuplint", "1"); } catch { keeps = false; }
  show();
  count();
})();
