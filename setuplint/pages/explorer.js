"use strict";
// A small evaluator of one set-up: what every channel puts out once all is settled. Three values: true, false, null (not known).
const setuplint = {
  and(a, b) { return a === false || b === false ? false : a === null || b === null ? null : true; },
  not(a) { return a === null ? null : !a; },

  holds(tree, here) {
    const [kind, ...rest] = tree;
    switch (kind) {
      case "and": return rest.reduce((all, each) => this.and(all, this.holds(each, here)), true);
      case "or": return this.not(rest.reduce((all, each) => this.and(all, this.not(this.holds(each, here))), true));
      case "not": return this.not(this.holds(rest[0], here));
      case "is": return here.state.positions[rest[0]] === rest[1];
      case "lost": return here.state.readings[rest[0]] === "lost";
      case "compare": {
        const [name, op, number] = rest;
        const value = Object.hasOwn(here.state.sticks, name) ? here.state.sticks[name] : here.state.readings[name];
        if (typeof value !== "number") return false;
        return op === "<" ? value < number : op === "<=" ? value <= number : op === ">" ? value > number : value >= number;
      }
      case "condition": return here.conditions[rest[0]];
      case "mode": return this.mode(here)[rest[0]];
      default: return null;
    }
  },

  // For every mode, and "" for none: whether it is flown.
  mode(here) {
    const found = {};
    let before = false;
    for (const mode of here.model.modes) {
      const when = this.holds(mode.when, here);
      found[mode.name] = this.and(this.not(before), when);
      before = this.not(this.and(this.not(before), this.not(when)));
    }
    found[""] = this.not(before);
    return found;
  },

  amount(amount, here) { return typeof amount === "number" ? amount : amount.at[here.state.positions[amount.switch]]; },

  term(term, here) {
    if ("number" in term) return term.number;
    if ("switch" in term) return term.values[here.state.positions[term.switch]];
    const lent = term.lent === null ? false : this.holds(term.lent[0], here);
    if (lent === null) return null;
    const turned = here.state.sticks[lent ? term.lent[1] : term.stick] * this.amount(term.rate, here) / 100;
    const u = Math.min(1, Math.max(-1, turned / 100));
    const k = this.amount(term.expo, here) / 100;
    const x = 100 * ((1 - k) * u + k * u * u * u);
    if (!term.pieces) return x;
    const pieces = term.curve === null ? term.pieces : term.pieces[here.state.smoothing[term.curve]];
    const last = pieces[pieces.length - 1];
    const at = Math.min(last[1], Math.max(pieces[0][0], x));
    const [lo, , a, b, c, d] = pieces.find((piece) => at <= piece[1]) || last;
    const s = at - lo;
    return ((d * s + c) * s + b) * s + a;
  },

  // To hundredths, half to even, as every other output has it.
  rounded(number) {
    const scaled = number * 100, down = Math.floor(scaled);
    const isHalf = Math.abs(scaled - down - 0.5) < 1e-6;
    return String((isHalf ? down + Math.abs(down % 2) : Math.round(scaled)) / 100);
  },

  servo(channel, demand) {
    let value = channel.reversed ? -demand : demand;
    value = value * (value < 0 ? channel.down : channel.up) / 100 + channel.trim;
    value = Math.min(channel.high, Math.max(channel.low, value));
    return Math.round(value * 1e6) / 1e6;
  },

  // Who may decide a channel, the highest first: overrides that may be active, up to one that is for sure, or its own line.
  deciders(channel, here) {
    const active = here.model.overrides.filter((each) => each.channel === channel.name)
      .map((each) => [each, this.holds(each.when, here)]).filter(([, when]) => when !== false);
    active.sort((a, b) => (b[0].priority ?? Infinity) - (a[0].priority ?? Infinity));
    const found = [];
    for (let n = 0; n < active.length;) {
      let end = n, sure = false;
      while (end < active.length && active[end][0].priority === active[n][0].priority) {
        sure = sure || (active[end][1] === true && active[end][0].priority !== null);
        end += 1;
      }
      found.push(...active.slice(n, end).map(([each]) => each));
      if (sure) return found;
      n = end;
    }
    return [...found, null];
  },

  limited(override, demand) {
    if (override === null || demand === null) return demand;
    const [least, most] = override.limits;
    const under = most === null ? demand : Math.min(most, demand);
    return least === null ? under : Math.max(least, under);
  },

  // The terms of the line that is flown; null where that is not known.
  terms(channel, modes) {
    const flown = Object.keys(modes).filter((name) => modes[name] !== false);
    if (flown.length !== 1) return null;
    return flown[0] === "" ? channel.own : channel.lines[flown[0]];
  },

  line(channel, here) {
    const terms = this.terms(channel, this.mode(here));
    return terms === null ? null : terms.map((term) => this.term(term, here))
      .reduce((sum, value) => (sum === null || value === null ? null : sum + value), 0);
  },

  // With the conditions of a moment, as delays have them just then: these, not what they settle to.
  evaluate(model, state, memory, moment) {
    const here = { model, state, conditions: {} };
    const after = { on: {}, last: {} };
    for (const each of model.conditions) {
      const when = this.holds(each.when, here);
      const was = (what) => Object.hasOwn(memory[what], each.name) && Boolean(memory[what][each.name]);
      let value = when;
      if (each.toggles) {
        value = when === null ? null : when && !was("last") ? !was("on") : was("on");
        after.last[each.name] = when === true;
      } else if (each.until) {
        const until = this.holds(each.until, here);
        value = until === null || when === null ? null : !until && (when || was("on"));
      }
      here.conditions[each.name] = moment ? moment[each.name] : value;
      if (each.toggles || each.until) after.on[each.name] = value === true;
    }
    const modes = this.mode(here);
    const outputs = {}, deciders = {};
    for (const channel of model.channels) {
      const able = this.deciders(channel, here);
      const demands = able.map((each) => (each === null || each.limits ? this.limited(each, this.line(channel, here)) : each.value));
      deciders[channel.name] = able.map((each) => (each === null ? "" : each.name));
      const known = demands.every((each) => each !== null && each !== undefined);
      outputs[channel.name] = demands.map((each) => (known ? this.servo(channel, each) : null));
    }
    const sounding = model.alarms.filter((each) => this.holds(each.when, here) === true).map((each) => each.name);
    return { conditions: here.conditions, memory: after, modes, outputs, deciders, sounding };
  },

  rest(model, heard) {
    const state = { positions: {}, sticks: {}, readings: {}, smoothing: {} };
    for (const each of model.switches) state.positions[each.name] = each.positions[0];
    for (const each of model.sticks) state.sticks[each.name] = each.rest;
    for (const each of model.sensors) state.readings[each.name] = heard ? each.rest : "unheard";
    for (const each of model.smoothings) state.smoothing[each.curve] = each.kinds[0];
    return state;
  },

  // The state with some controls elsewhere; sensors of one pack show one voltage. The first reading has the receiver on.
  moved(model, before, moves) {
    const state = { ...before, positions: { ...before.positions }, sticks: { ...before.sticks }, readings: { ...before.readings } };
    const silent = model.sensors.length && model.sensors.every((each) => state.readings[each.name] === "unheard");
    if (silent && !Object.values(moves).includes("unheard"))
      for (const each of model.sensors) state.readings[each.name] = each.rest;
    for (const [name, where] of Object.entries(moves)) {
      if (Object.hasOwn(state.positions, name)) state.positions[name] = where;
      else if (Object.hasOwn(state.sticks, name)) state.sticks[name] = where;
      else if (where === "unheard") for (const each of model.sensors) state.readings[each.name] = "unheard";
      else {
        state.readings[name] = where;
        const sensor = model.sensors.find((each) => each.name === name);
        if (sensor && sensor.cells && typeof where === "number")
          for (const each of model.sensors)
            if (each.cells && each.name !== name && typeof state.readings[each.name] === "number")
              state.readings[each.name] = Math.round(where / sensor.cells * each.cells * 1e9) / 1e9;
      }
    }
    return state;
  },
};

(function () {
  const holder = document.getElementById("data");
  const place = document.getElementById("explorer");
  if (!holder || !place) return;
  const { model, cases, places } = JSON.parse(holder.textContent);
  let state = setuplint.rest(model, true), memory = { on: {}, last: {} }, moment = null, clock = 0;

  function make(name, attributes, ...inside) {
    const made = document.createElement(name);
    for (const [key, value] of Object.entries(attributes || {})) made.setAttribute(key, value);
    for (const each of inside) made.append(each);
    return made;
  }

  function put(moves) {
    stop();
    state = setuplint.moved(model, state, moves);
    memory = setuplint.evaluate(model, state, memory).memory;
    show();
  }

  // The settled state goes on from here.
  function stop() {
    clearInterval(clock);
    moment = null;
  }

  // As the transmitter smooths curves now, or as is given.
  function reset(heard, smoothing) {
    stop();
    document.getElementById("run").replaceChildren();
    memory = { on: {}, last: {} };
    state = { ...setuplint.rest(model, heard), smoothing: smoothing || state.smoothing };
    memory = setuplint.evaluate(model, state, memory).memory;
  }

  const controls = document.getElementById("controls");
  const inputs = {};
  for (const each of model.switches) {
    const box = make("fieldset", {}, make("legend", {}, each.name + (each.sprung ? " (springs back)" : "")));
    for (const position of each.positions) {
      const input = make("input", { type: "radio", name: "switch-" + each.name, value: position });
      input.addEventListener("change", () => put({ [each.name]: position }));
      inputs[each.name + "=" + position] = input;
      box.append(make("label", {}, input, " " + position));
    }
    controls.append(box);
  }
  for (const each of model.sticks) {
    const input = make("input", { type: "range", min: -100, max: 100, step: 1, "aria-label": each.name });
    const shown = make("output");
    input.addEventListener("input", () => put({ [each.name]: Number(input.value) }));
    inputs[each.name] = [input, shown];
    controls.append(make("fieldset", {}, make("legend", {}, each.name + " "), shown, input));
  }
  for (const each of model.sensors) {
    const number = make("input", { type: "number", step: "any", min: each.least, max: each.most, "aria-label": each.name });
    const how = make("select", { "aria-label": each.name + ": heard, lost or unheard" },
      make("option", { value: "heard" }, "heard"), make("option", { value: "lost" }, "lost"), make("option", { value: "unheard" }, "not heard yet"));
    number.addEventListener("input", () => number.value !== "" && put({ [each.name]: Number(number.value) }));
    how.addEventListener("change", () => put({ [each.name]: how.value === "heard" ? (number.value === "" ? each.rest : Number(number.value)) : how.value }));
    inputs[each.name] = [number, how];
    controls.append(make("fieldset", {}, make("legend", {}, each.name + (each.unit ? ", " + each.unit : "")), number, " ", how));
  }

  for (const each of model.smoothings) {
    const how = make("select", { "aria-label": "how the transmitter smooths " + each.curve }, ...each.kinds.map((kind) => make("option", { value: kind }, kind)));
    how.addEventListener("change", () => {
      state = { ...state, smoothing: { ...state.smoothing, [each.curve]: how.value } };
      show();
    });
    inputs["curve=" + each.curve] = how;
    controls.append(make("fieldset", {}, make("legend", {}, "curve " + each.curve + ", smoothed as"), how));
  }

  function percent(value) { return (value > 0 ? "+" : "") + setuplint.rounded(value) + " %"; }

  // What a motor's output is on the other scale, and its pulse.
  function motorScales(channel, value) {
    const { rounded } = setuplint, [centre, each] = channel.pulse;
    return ` (${rounded((value + 100) / 2)} of 100, ${rounded(centre + each * value)} µs)`;
  }

  function bar(value) {
    const space = "http://www.w3.org/2000/svg";
    const drawn = document.createElementNS(space, "svg");
    drawn.setAttribute("viewBox", "0 0 300 20");
    drawn.setAttribute("class", "bar");
    drawn.setAttribute("aria-hidden", "true");
    for (const [kind, x, wide] of [["grid", 150, 0], ["f0", Math.min(150, 150 + value), Math.abs(value)]]) {
      const part = document.createElementNS(space, kind === "grid" ? "line" : "rect");
      const sizes = kind === "grid" ? { x1: x, y1: 0, x2: x, y2: 20 } : { x, y: 4, width: Math.max(wide, 1), height: 12 };
      for (const [key, size] of Object.entries(sizes)) part.setAttribute(key, size);
      part.setAttribute("class", kind === "grid" ? "axis" : kind);
      drawn.append(part);
    }
    return drawn;
  }

  // What decides a channel, with its place in the file.
  function by(channel, who, modes) {
    if (who) return places.overrides[who];
    const flown = Object.keys(modes).filter((name) => modes[name] !== false);
    return flown.length === 1 ? places.lines[channel.name][flown[0]] : "its own line, in a mode that is not known";
  }

  // As what the curves of unknown smoothing are taken that an output hangs on.
  function taken(channel, who, seen) {
    const override = model.overrides.find((each) => each.name === who) || null;
    if (override !== null && !override.limits) return "";
    const curves = new Set((setuplint.terms(channel, seen.modes) || []).map((each) => each.curve));
    const mine = model.smoothings.filter(({ curve }) => curves.has(curve));
    const given = (smoothing) => setuplint.servo(channel, setuplint.limited(override, setuplint.line(channel, { model, state: { ...state, smoothing }, conditions: seen.conditions })));
    const ways = mine.slice(0, 4).reduce((found, { curve, kinds }) => found.flatMap((way) => kinds.map((kind) => ({ ...way, [curve]: kind }))), [state.smoothing]);
    const able = mine.filter(({ curve, kinds }, n) => n > 3 || ways.some((way) => kinds.some((kind) => given({ ...way, [curve]: kind }) !== given(way))));
    return able.map(({ curve }) => ", if " + curve + " is smoothed as " + state.smoothing[curve]).join("");
  }

  function show() {
    const seen = setuplint.evaluate(model, state, memory, moment);
    for (const each of model.switches)
      for (const position of each.positions) inputs[each.name + "=" + position].checked = state.positions[each.name] === position;
    for (const each of model.sticks) {
      const [input, shown] = inputs[each.name];
      input.value = state.sticks[each.name];
      shown.textContent = percent(state.sticks[each.name]);
    }
    for (const each of model.sensors) {
      const [number, how] = inputs[each.name], reading = state.readings[each.name];
      how.value = typeof reading === "number" ? "heard" : reading;
      if (typeof reading === "number" && document.activeElement !== number) number.value = reading;
    }
    for (const each of model.smoothings) inputs["curve=" + each.curve].value = state.smoothing[each.curve];
    const rows = document.getElementById("outputs");
    const before = new Map([...rows.children].map((row) => [row.children[0].textContent, row.children[1].textContent]));
    rows.replaceChildren();
    for (const channel of model.channels) {
      const values = seen.outputs[channel.name], who = seen.deciders[channel.name];
      values.forEach((value, n) => {
        const known = value !== null && percent(value) + (channel.motor ? motorScales(channel, value) : "");
        const said = known ? known + taken(channel, who[n], seen) : "not known";
        const name = n ? channel.name + ", or" : channel.name;
        const moved = before.has(name) && before.get(name) !== said ? { class: "moved" } : {};
        rows.append(make("tr", moved, make("th", { scope: "row" }, name), make("td", {}, said),
          make("td", {}, value === null ? "" : bar(value)), make("td", who[n] ? {} : { class: "own" }, by(channel, who[n], seen.modes))));
      });
    }
    const flown = Object.keys(seen.modes).filter((name) => seen.modes[name] !== false).map((name) => name || "none");
    const on = model.conditions.filter((each) => seen.conditions[each.name] === true).map((each) => each.name);
    document.getElementById("standing").textContent =
      (model.modes.length ? "mode: " + flown.join(" or ") + "; " : "") + "conditions on: " + (on.join(", ") || "none") +
      "; alarms sounding: " + (seen.sounding.join(", ") || "none");
    place.dispatchEvent(new CustomEvent("shown", { detail: { state, memory, seen } }));
  }

  // What holds this page, such as an editor, hears what is shown, and can have another state shown.
  place.addEventListener("show", ({ detail }) => {
    stop();
    memory = detail.memory;
    state = { smoothing: state.smoothing, ...detail.state };
    show();
    if (detail.words) say(detail.words);
  });
  document.getElementById("power").addEventListener("click", () => { reset(false); show(); say("Power-up: everything at rest, the receiver not heard."); });
  document.getElementById("still").addEventListener("click", () => { reset(true); show(); say("Everything at rest, the receiver on."); });

  // A run in time: its moments in a list, one after the other, and each at a click.
  function play(number, moments) {
    const list = document.getElementById("run");
    const looks = moments.map((each, n) => {
      const button = make("button", { type: "button" }, each.words);
      button.addEventListener("click", () => { stop(); look(n); });
      list.append(make("li", {}, button));
      return button;
    });
    function look(n) {
      ({ memory, conditions: moment } = moments[n]);
      state = { ...moments[n].state, smoothing: state.smoothing };
      looks.forEach((each, m) => (m === n ? each.setAttribute("aria-current", "step") : each.removeAttribute("aria-current")));
      show();
      say("The run of finding " + number + ", at " + moments[n].words + ".");
    }
    let next = 0;
    function tick() {
      look(next);
      next += 1;
      if (next === moments.length) clearInterval(clock);
    }
    tick();
    if (moments.length > 1) clock = setInterval(tick, 1500);
  }

  function say(words) { document.getElementById("said").textContent = words; }
  for (const button of document.querySelectorAll("button.show")) {
    button.hidden = false;
    button.addEventListener("click", () => {
      const found = cases[Number(button.dataset.finding)];
      const smoothing = { ...setuplint.rest(model, true).smoothing, ...found.smoothing };
      reset(!found["from-power-up"], smoothing);
      place.scrollIntoView();
      place.focus();
      if (found.moments && found.moments.length) {
        play(Number(button.dataset.finding) + 1, found.moments);
        return;
      }
      found.steps.forEach((step, n) => {
        if (n === 0 && found["from-power-up"]) {
          state = { ...setuplint.rest(model, false), smoothing };
          for (const [name, where] of Object.entries(step)) {
            if (Object.hasOwn(state.positions, name)) state.positions[name] = where;
            if (Object.hasOwn(state.sticks, name)) state.sticks[name] = where;
          }
          memory = setuplint.evaluate(model, state, { on: {}, last: {} }).memory;
        } else {
          if (n === 0) memory = { on: {}, last: {} };
          state = setuplint.moved(model, state, step);
          memory = setuplint.evaluate(model, state, memory).memory;
        }
      });
      show();
      say("The case of finding " + (Number(button.dataset.finding) + 1) + ".");
    });
  }
  place.hidden = false;
  for (const each of document.querySelectorAll(".script")) each.hidden = false;
  reset(true);
  show();
})();
