"use strict";
// Between a page of setuplint and the editor that shows it. Runs after the page's own script.
(function () {
  const editor = acquireVsCodeApi();
  const uri = document.currentScript.dataset.uri;
  const making = document.currentScript.nonce; // tells this page from one of before
  const kept = editor.getState();
  const here = kept && kept.uri === uri ? kept : { uri, scroll: 0, shown: null, words: "" };

  function keep(more) {
    Object.assign(here, more);
    editor.setState(here);
  }

  function post(message) {
    editor.postMessage({ ...message, making });
  }

  // Light or dark as the editor is, not as the system is.
  function follow_theme() {
    const dark = document.body.classList.contains("vscode-dark") ||
      (document.body.classList.contains("vscode-high-contrast") && !document.body.classList.contains("vscode-high-contrast-light"));
    document.documentElement.style.colorScheme = dark ? "dark" : "light";
    for (const sheet of document.styleSheets)
      for (const rule of sheet.cssRules) {
        if (!(rule instanceof CSSMediaRule)) continue;
        rule.scheme = rule.scheme || (rule.media.mediaText.includes("prefers-color-scheme: dark") ? "dark" : "other");
        if (rule.scheme === "dark") rule.media.mediaText = dark ? "all" : "not all";
      }
  }
  follow_theme();
  new MutationObserver(follow_theme).observe(document.body, { attributes: true, attributeFilter: ["class"] });

  // The explorer: its state is kept while the page is made again, and told to the editor.
  const explorer = document.getElementById("explorer");
  const holder = document.getElementById("data");
  const model = explorer && holder ? JSON.parse(holder.textContent).model : null;

  // What of a state the controls of this page can have.
  function fitted(given) {
    const state = setuplint.rest(model, true);
    for (const each of model.switches)
      if (each.positions.includes(given.positions[each.name])) state.positions[each.name] = given.positions[each.name];
    for (const each of model.sticks)
      if (typeof given.sticks[each.name] === "number") state.sticks[each.name] = given.sticks[each.name];
    for (const each of model.sensors)
      if (given.readings[each.name] !== undefined) state.readings[each.name] = given.readings[each.name];
    for (const each of model.smoothings)
      if (given.smoothing && each.kinds.includes(given.smoothing[each.curve])) state.smoothing[each.curve] = given.smoothing[each.curve];
    return state;
  }

  function tell({ state, memory, seen }) {
    keep({ shown: { state, memory }, words: "" });
    const channels = {};
    for (const each of model.channels) {
      const texts = seen.outputs[each.name].map((value) => (value === null ? "not known" : scales(each, value)));
      channels[each.name] = { text: texts.join(" or "), by: seen.deciders[each.name] };
    }
    const flown = Object.keys(seen.modes).filter((name) => seen.modes[name] === true);
    post({ kind: "shown", shown: { channels, modes: flown } });
  }

  function scales(channel, value) {
    const said = (value > 0 ? "+" : "") + setuplint.rounded(value) + " %";
    return channel.motor ? said + " (" + setuplint.rounded((value + 100) / 2) + " of 100)" : said;
  }

  function put(state, memory, words) {
    explorer.dispatchEvent(new CustomEvent("show", { detail: { state, memory, words } }));
    keep({ words });
  }

  function try_state({ controls, conditions, smoothing, words }) {
    if (!model) return;
    const given = { positions: controls, sticks: controls, readings: controls, smoothing };
    const state = fitted(given);
    const on = Object.fromEntries(conditions.map((name) => [name, true]));
    const last = Object.fromEntries(model.conditions.map((each) => [each.name, true])); // nothing toggles by being asked
    put(state, setuplint.evaluate(model, state, { on, last }).memory, words);
    post({ kind: "tried" });
    explorer.scrollIntoView({ block: "start" });
  }

  // The cursor: the finding it is in, else the part.
  function target({ part, lines }) {
    const findings = [...document.querySelectorAll("article.finding")];
    const told = findings.find((each) => lines.some((line) => place_of(each) === line));
    if (told || !part) return told;
    if (part.table === "curves") return document.getElementById("curve-" + part.name)?.closest("figure");
    if (["battery", "packs"].includes(part.table)) return document.getElementById("battery");
    if (!part.name) return undefined;
    const name = new RegExp("(?<![\\w-])" + part.name.replace(/[^\w-]/g, "\\$&") + "(?![\\w-])");
    const able = document.querySelectorAll("th, td, p, h2, h3, li, figcaption, legend");
    const found = [...able].find((each) => !each.closest("header, footer, pre, nav") && name.test(each.textContent));
    return found && found.closest("tr, article, figure, fieldset, li, p, h2, h3");
  }

  function place_of(finding) {
    const code = finding.querySelector("p.soft code");
    const found = code && /:(\d+):\d+$/.exec(code.textContent);
    return found ? Number(found[1]) : 0;
  }

  function go_to(asked) {
    for (const each of document.querySelectorAll(".setuplint-here")) each.classList.remove("setuplint-here");
    const found = target(asked);
    if (!found) return;
    found.classList.add("setuplint-here");
    if (asked.still) return;
    const { top, bottom } = found.getBoundingClientRect();
    if (top < 0 || bottom > innerHeight) found.scrollIntoView({ block: bottom - top > innerHeight ? "start" : "center" });
  }

  function stale(words) {
    document.getElementById("setuplint-stale")?.remove();
    const bar = document.createElement("p");
    bar.id = "setuplint-stale";
    bar.setAttribute("role", "status");
    bar.textContent = "This page is of before: " + words + ".";
    document.body.prepend(bar);
  }

  for (const finding of document.querySelectorAll("article.finding")) {
    const code = finding.querySelector("p.soft code"), line = place_of(finding);
    if (!line) continue;
    code.classList.add("setuplint-place");
    code.tabIndex = 0;
    code.setAttribute("role", "link");
    const open = () => post({ kind: "open", line });
    code.addEventListener("click", open);
    code.addEventListener("keydown", (event) => event.key === "Enter" && open());
  }

  addEventListener("message", ({ data }) => {
    if (data.kind === "follow") go_to(data);
    if (data.kind === "try") try_state(data);
    if (data.kind === "stale") stale(data.words);
  });
  addEventListener("scroll", () => keep({ scroll: scrollY }));
  if (model) {
    explorer.addEventListener("shown", ({ detail }) => tell(detail));
    const state = here.shown ? fitted(here.shown.state) : setuplint.rest(model, true);
    const memory = here.shown ? here.shown.memory : { on: {}, last: {} };
    put(state, here.shown ? memory : setuplint.evaluate(model, state, memory).memory, here.words);
  }
  scrollTo(0, here.scroll);
  post({ kind: "ready" });
})();
