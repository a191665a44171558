// The form: a field for each question that is asked, the file as it is so far, and the ways to keep it.
const form = {
  start(data) {
    this.data = data;
    this.fields = new Map();
    this.replies = { ...this.kept(), ...data.replies };
    this.sections = document.getElementById("questions");
    document.getElementById("save").addEventListener("click", () => this.save(this.name(), this.text, "application/toml"));
    document.getElementById("draft").addEventListener("click", () => this.saveDraft());
    document.getElementById("copy").addEventListener("click", () => this.copy());
    document.getElementById("again").addEventListener("click", () => this.again());
    this.show();
  },

  // -- what was answered before stays on this device, where the browser lets it

  kept() {
    try { return JSON.parse(localStorage.getItem("setuplint-interview")) || {}; } catch { return {}; }
  },
  keep() {
    try { localStorage.setItem("setuplint-interview", JSON.stringify(this.replies)); } catch { /* a private window: nothing is kept */ }
  },
  again() {
    if (!confirm("Forget all answers on this page?")) return;
    this.replies = { ...this.data.replies };
    this.keep();
    this.fields.clear();
    this.sections.replaceChildren();
    this.show();
  },

  // -- the questions

  show() {
    const found = interview.course(this.data, this.replies);
    for (const question of this.data.questions) if (question.section) this.section(question.section);  // in their order, asked or not
    const here = new Set(found.steps.map((step) => step.key));
    for (const [key, field] of this.fields) if (!here.has(key)) field.row.hidden = true;
    let before = null;
    for (const step of found.steps) {
      const field = this.fields.get(step.key) || this.made(step), part = this.section(step.section);
      if (before !== null && before.parentElement !== part) before = null;
      const next = before === null ? part.querySelector(".question") : before.nextElementSibling;
      if (next !== field.row) part.insertBefore(field.row, next);
      this.fill(field, step);
      before = field.row;
    }
    for (const part of this.sections.children) part.hidden = ![...part.querySelectorAll(".question")].some((row) => !row.hidden);
    this.close(found);
  },
  section(name) {
    const id = `part-${name.toLowerCase().replace(/[^a-z]+/g, "-")}`, there = document.getElementById(id);
    if (there) return there;
    const part = this.element("fieldset", { id, className: "part" });
    part.append(this.element("legend", { textContent: name }));
    this.sections.append(part);
    return part;
  },
  element(name, what) { return Object.assign(document.createElement(name), what); },
  made(step) {
    const id = `q-${step.key.replace(/[^a-z0-9]+/g, "-")}`, question = step.question;
    const row = this.element("div", { className: "question" });
    const label = this.element("label", { htmlFor: id });
    const words = question.yes_no ? ["yes", "no"] : question.choices;
    const input = words.length ? this.element("select", { id }) : this.element("input", { id, type: "text", autocomplete: "off", spellcheck: false });
    for (const word of words.length ? ["", ...words] : []) input.append(this.element("option", { value: word, textContent: word }));
    if (words.length && question.none) input.append(this.element("option", { value: "no", textContent: "no" }));
    input.value = this.replies[step.key] || "";
    if (words.length && input.value !== (this.replies[step.key] || "")) delete this.replies[step.key];
    const said = this.element("p", { id: `${id}-said`, className: "said" });
    said.setAttribute("role", "status");
    input.setAttribute("aria-describedby", said.id);
    input.addEventListener("input", () => {
      if (input.value === "") delete this.replies[step.key];
      else this.replies[step.key] = input.value;
      this.keep();
      this.show();
    });
    row.append(label, input, said);
    const takes = words.length ? "" : this.data.readers[question.sticks ? "names" : question.reader].says;
    const help = [question.help, takes && `It takes ${takes}${question.none ? ", or no" : ""}.`].filter(Boolean).join(" ");
    if (help) row.append(this.element("p", { className: "help", textContent: help }));
    const field = { row, label, input, said };
    this.fields.set(step.key, field);
    return field;
  },
  fill(field, step) {
    const byDefault = step.default === null ? "" : interview.shown(this.data, step.question, step.default);
    field.row.hidden = false;
    field.label.textContent = step.text;
    if (field.input.tagName === "SELECT") field.input.options[0].textContent = byDefault || "not known";
    else field.input.placeholder = byDefault || "not known";
    const wrong = step.complaint !== "", open = step.question.needed && !step.reply;
    field.input.setAttribute("aria-invalid", String(wrong));
    field.row.classList.toggle("wrong", wrong);
    const shown = interview.shown(this.data, step.question, step.answer);
    const understood = step.reply && shown !== step.reply ? `= ${shown}` : "";
    const words = wrong ? step.complaint : open ? "This one is needed." : understood;
    if (field.said.textContent !== words) field.said.textContent = words;
  },

  // -- the file

  close(found) {
    const wrong = found.steps.filter((step) => step.complaint), open = found.steps.filter((step) => step.question.needed && !step.reply);
    const unknown = found.steps.filter((step) => !step.complaint && step.answer === null && !open.includes(step));
    this.answers = found.answers;
    this.text = open.length || wrong.length ? "" : interview.setup(this.data, found.answers);
    document.getElementById("file").textContent = this.text || "The file stands here once what is needed is answered, and every answer is understood.";
    for (const id of ["save", "copy"]) document.getElementById(id).disabled = !this.text;
    const count = (number, one, many) => (number ? [`${number} ${number === 1 ? one : many}`] : []);
    const left = [...count(open.length, "question is needed", "questions are needed"), ...count(wrong.length, "answer is to be mended", "answers are to be mended"),
      ...count(unknown.length, "is not known, and left out", "are not known, and left out")];
    document.getElementById("state").textContent = `${found.steps.length} questions${left.length ? `: ${left.join(", ")}` : ", all answered"}.`;
    document.getElementById("next").textContent = `setuplint lint ${this.name()}`;
    this.links(document.getElementById("open"), [...open, ...wrong, ...unknown]);
  },
  links(list, steps) {
    list.replaceChildren(...steps.map((step) => {
      const item = this.element("li", {}), link = this.element("a", { href: `#${this.fields.get(step.key).input.id}` });
      link.textContent = step.item === null ? step.question.label : `${step.question.label} (${step.item})`;
      link.addEventListener("click", (event) => { event.preventDefault(); this.fields.get(step.key).input.focus(); });
      item.append(link, step.complaint ? `: ${step.complaint}` : "");
      return item;
    }));
  },
  name() {
    const name = (this.answers && typeof this.answers.name === "string" ? this.answers.name : "").toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-+|-+$/g, "");
    return `${name || "setup"}.toml`;
  },
  save(name, text, type) {
    const link = this.element("a", { href: URL.createObjectURL(new Blob([text], { type })), download: name });
    document.body.append(link);
    link.click();
    link.remove();
    setTimeout(() => URL.revokeObjectURL(link.href), 10000);
  },
  saveDraft() {
    const asked = [...this.fields].filter(([key, field]) => !field.row.hidden && key in this.replies).map(([key]) => [key, this.replies[key]]);
    this.save(`${this.name()}.draft`, JSON.stringify({ "setuplint draft": 1, replies: Object.fromEntries(asked) }, null, 1) + "\n", "application/json");
  },
  async copy() {
    const button = document.getElementById("copy");
    try { await navigator.clipboard.writeText(this.text); button.textContent = "Copied"; } catch {
      getSelection().selectAllChildren(document.getElementById("file"));
      button.textContent = "Selected: copy it";
    }
    setTimeout(() => { button.textContent = "Copy"; }, 3000);
  },
};
form.start(JSON.parse(document.getElementById("data").textContent));
