// The card: switches and channels, then the places at which to read, as the plan in readings.toml has them.
const card = {
  uses: ["hold", "stop", "rescue", "mode", "other"],
  kinds: { momentary: "released, pulled", "two-position": "off, on", "three-position": "up, middle, down", selector: "" },
  drives: ["motor", "collective", "aileron", "elevator", "rudder", "gyro-gain", "stabiliser", "other"],
  begin: {
    craft: [["", "collective"]],
    switches: [["hold", "two-position", "off, on", "hold"], ["save", "momentary", "released, pulled", "rescue"], ["flight", "two-position", "normal, idle-up", "mode"]],
    channels: [["motor", "motor", ""], ["pitch", "collective", ""], ["roll", "aileron", ""], ["nose", "elevator", ""], ["tail", "rudder", ""]],
    reads: {},
  },

  start(data) {
    this.data = data;
    this.kept = this.fromDevice() || structuredClone(this.begin);
    document.getElementById("switches-more").addEventListener("click", () => this.more("switches", ["", "two-position", "off, on", "other"]));
    document.getElementById("channels-more").addEventListener("click", () => this.more("channels", ["", "other", ""]));
    document.getElementById("save").addEventListener("click", () => this.save());
    document.getElementById("again").addEventListener("click", () => {
      if (!confirm("Forget all that is on this page?")) return;
      this.kept = structuredClone(this.begin);
      this.changed();
      this.show();
    });
    this.show();
  },
  fromDevice() {
    try {
      const kept = JSON.parse(localStorage.getItem("setuplint-readings"));
      return kept && Array.isArray(kept.craft) && Array.isArray(kept.switches) && Array.isArray(kept.channels) && kept.reads ? kept : null;
    } catch { return null; }
  },
  changed() {
    try { localStorage.setItem("setuplint-readings", JSON.stringify(this.kept)); } catch { /* nothing is kept then */ }
  },
  element(name, what, ...inside) {
    const made = Object.assign(document.createElement(name), what);
    made.append(...inside);
    return made;
  },

  // -- what there is

  show() {
    const switches = [["Name"], ["Kind", Object.keys(this.kinds)], ["Positions, the one at rest first"], ["For", this.uses]];
    this.rows("craft", "craft", [["Name"], ["What carries it: blades whose pitch changes, or rotor speed alone", ["collective", "fixed"]]]);
    this.rows("switches", "switch", switches);
    this.rows("channels", "channel", [["Name"], ["Drives", this.drives], ["Place at the receiver"]]);
    this.places();
  },
  rows(list, word, fields) {
    const parts = this.kept[list].map((row, n) => {
      const inside = fields.map(([label, choices], column) => {
        const input = choices ? this.element("select", {}, ...choices.map((each) => this.element("option", { value: each, textContent: each })))
          : this.element("input", { type: "text", autocomplete: "off", spellcheck: false });
        input.value = row[column];
        input.addEventListener("change", () => {
          row[column] = input.value;
          if (list === "switches" && column === 1) { row[2] = this.kinds[input.value]; this.show(); }
          this.changed();
          this.places();
        });
        return this.element("label", { className: "field" }, label, input);
      });
      const gone = this.element("button", { type: "button", textContent: "Remove" });
      gone.addEventListener("click", () => { this.kept[list].splice(n, 1); this.changed(); this.show(); });
      const head = this.element("legend", { textContent: list === "craft" ? word : `${word} ${n + 1}` });
      return this.element("fieldset", { className: "part" }, head, ...inside, ...(list === "craft" ? [] : [gone]));
    });
    document.getElementById(list).replaceChildren(...parts);
  },
  more(list, row) {
    this.kept[list].push(row);
    this.changed();
    this.show();
    document.querySelector(`#${list} fieldset:last-child input`).focus();
  },
  switches() {
    return this.kept.switches.filter((row) => row[0]).map(([name, kind, positions, use], at) => new Map(Object.entries({ name: this.word(name), kind, use,
      positions: positions.split(",").map((each) => this.word(each)), at: interview.number(at) })));
  },
  channels() { return this.kept.channels.filter((row) => row[0]).map(([name, drives, number]) => ({ name: this.word(name), drives, number: number.trim() })); },
  word(text) { return interview.trimmed(text).toLowerCase().replace(/[ _]+/g, "-"); },

  // -- the places

  plan(groups) { return interview.lookUp(this.data, { switches: this.switches(), groups }, {})("plan"); },
  key([switches, sticks]) { return [...switches.map(([name, at]) => `${name}=${at}`), ...sticks.map(([stick, x]) => `${stick}=${x.text()}`)].join(" ") || "rest"; },
  typed(key, channel) {
    const reads = this.kept.reads[key] || {};
    return Object.hasOwn(reads, channel) ? reads[channel] : "";
  },
  read(place, channel) {
    const typed = this.typed(this.key(place), channel);
    return typed ? interview.reading(this.data, this.data.readers.output, typed, interview.tidied(this.data, typed), []) : null;
  },
  // Sticks that may move at once: no channel follows two of a group, by what was read with all switches at rest.
  groups() {
    const still = this.plan([]).filter(([switches]) => !switches.length), rest = still.find(([, sticks]) => !sticks.length);
    const followed = this.channels().map(({ name }) => this.data.sticks.filter((stick) => still.some((place) => {
      const one = this.read(place, name), zero = this.read(rest, name);
      return place[1].length === 1 && place[1][0][0] === stick && one !== null && (zero === null || one.sign(zero) !== 0);
    })));
    const groups = [];
    for (const stick of this.data.sticks) {
      const free = groups.find((group) => !group.some((other) => followed.some((some) => some.includes(stick) && some.includes(other))));
      if (free) free.push(stick); else groups.push([stick]);
    }
    return groups;
  },
  places() {
    const plan = this.plan(this.groups()), list = document.getElementById("places"), there = new Map([...list.children].map((part) => [part.dataset.key, part]));
    const names = this.channels().map(({ name }) => name).join(" ");
    const wanted = plan.map((place, n) => {
      const key = this.key(place), old = there.get(key);
      const part = old && old.dataset.names === names ? old : this.place(place, names);
      part.firstChild.textContent = `${n + 1} of ${plan.length}: ${this.where(place)}`;
      return part;
    });
    if (wanted.length !== list.children.length || wanted.some((part, n) => part !== list.children[n])) list.replaceChildren(...wanted);
    this.count(plan);
  },
  place(place, names) {
    const key = this.key(place), part = this.element("fieldset", { className: "part place" }, this.element("legend", {}));
    Object.assign(part.dataset, { key, names });
    for (const { name } of this.channels()) {
      const input = this.element("input", { type: "text", inputMode: "text", autocomplete: "off", value: this.typed(key, name) });
      const said = this.element("span", { className: "said" });
      said.setAttribute("role", "status");
      const look = () => {
        const wrong = input.value !== "" && this.read(place, name) === null;
        input.setAttribute("aria-invalid", String(wrong));
        said.textContent = wrong ? `not ${this.data.readers.output.says}` : "";
      };
      input.addEventListener("input", () => {
        (this.kept.reads[key] ||= {})[name] = input.value;
        look();
        this.changed();
        this.count(this.plan(this.groups()));
      });
      input.addEventListener("change", () => { if (!place[0].length) this.places(); });
      look();
      part.append(this.element("label", { className: "field" }, name, input, said));
    }
    return part;
  },
  where([switches, sticks]) {
    const ends = { throttle: ["at the bottom", "at the top"], aileron: ["left", "right"], elevator: ["back", "forward"], rudder: ["left", "right"] };
    const at = (stick, x) => `${stick} ${x === "0" ? "in the middle" : ends[stick][x === "-100" ? 0 : 1]}`;
    const moved = switches.map(([name, position]) => `${name} ${position}`).join(", ") || "all switches at rest";
    const where = sticks.map(([stick, x]) => at(stick, x.text())).join(", "), others = sticks.length < this.data.sticks.length;
    return `${moved}; ${where ? where + (others ? " (the others at rest)" : "") : "sticks at rest, the throttle at the bottom"}.`;
  },
  count(plan) {
    const channels = this.channels(), whole = plan.filter((place) => channels.every(({ name }) => this.read(place, name) !== null)).length;
    document.getElementById("state").textContent = `${whole} of ${plan.length} places are read.`;
  },

  // -- the file

  text() {
    const quote = (word) => `"${word.replace(/\\/g, "\\\\").replace(/"/g, '\\"')}"`, [[name, rotor]] = this.kept.craft;
    const lines = ["readings = 1", "", "[craft]", ...(interview.trimmed(name) ? [`name = ${quote(interview.trimmed(name))}`] : []), `rotor = ${quote(rotor)}`];
    for (const each of this.switches()) {
      lines.push("", `[switches.${each.get("name")}]`, `kind = ${quote(each.get("kind"))}`, `positions = [${each.get("positions").map(quote).join(", ")}]`, `for = ${quote(each.get("use"))}`);
    }
    for (const { name, drives, number } of this.channels()) lines.push("", `[channels.${name}]`, `drives = ${quote(drives)}`, ...(/^[0-9]{1,2}$/.test(number) ? [`number = ${Number(number)}`] : []));
    for (const place of this.plan(this.groups())) {
      const reads = this.channels().map(({ name }) => [name, this.read(place, name)]).filter(([, read]) => read !== null);
      if (!reads.length) continue;
      const table = (pairs) => `{ ${pairs.map(([name, word]) => `${name} = ${word}`).join(", ")} }`;
      lines.push("", "[[places]]");
      if (place[0].length) lines.push(`switches = ${table(place[0].map(([name, at]) => [name, quote(at)]))}`);
      if (place[1].length) lines.push(`sticks = ${table(place[1].map(([stick, x]) => [stick, x.text()]))}`);
      lines.push(`reads = ${table(reads.map(([name, read]) => [name, read.text()]))}`);
    }
    return `${lines.join("\n")}\n`;
  },
  save() {
    const link = this.element("a", { href: URL.createObjectURL(new Blob([this.text()], { type: "application/toml" })), download: "readings.toml" });
    document.body.append(link);
    link.click();
    link.remove();
    setTimeout(() => URL.revokeObjectURL(link.href), 10000);
  },
};
card.start(JSON.parse(document.getElementById("data").textContent));
