"use strict";
// The interview of `setuplint new`: an interpreter of the same data as the command's (interview/*.py), exact like it. It knows no
// question by name. Not known is null, "there is none" false, numbers are exact fractions, tables are Maps.
class Exact {
  constructor(over, under = 1n) {
    if (under < 0n) { over = -over; under = -under; }
    let a = over < 0n ? -over : over, b = under;
    while (b) [a, b] = [b, a % b];
    this.over = over / (a || 1n);
    this.under = under / (a || 1n);
  }
  static read(text) {
    const [, sign, whole, part = ""] = /^([-+]?)([0-9]*)(?:\.([0-9]+))?$/.exec(text);
    return new Exact(BigInt(sign + whole + part), 10n ** BigInt(part.length));
  }
  plus(b) { return new Exact(this.over * b.under + b.over * this.under, this.under * b.under); }
  minus(b) { return new Exact(this.over * b.under - b.over * this.under, this.under * b.under); }
  times(b) { return new Exact(this.over * b.over, this.under * b.under); }
  by(b) { return b.over ? new Exact(this.over * b.under, this.under * b.over) : null; }
  sign(b) { const d = this.minus(b).over; return d < 0n ? -1 : d > 0n ? 1 : 0; }
  floor() { const q = this.over / this.under; return this.over < 0n && q * this.under !== this.over ? q - 1n : q; }
  text() {  // all its decimals, up to ten
    const size = this.over < 0n ? -this.over : this.over, all = (size * 10n ** 10n / this.under).toString().padStart(11, "0");
    const part = all.slice(-10).replace(/0+$/, ""), whole = all.slice(0, -10);
    return (this.over < 0n && (whole !== "0" || part) ? "-" : "") + whole + (part && "." + part);
  }
}

const interview = {
  number(n) { return new Exact(BigInt(n)); },
  holds(v) { return v === true || v instanceof Exact || (v instanceof Map ? v.size > 0 : (typeof v === "string" || Array.isArray(v)) && v.length > 0); },
  same(a, b) {
    if (Array.isArray(a) && Array.isArray(b)) return a.length === b.length && a.every((each, n) => this.same(each, b[n]));
    return a instanceof Exact && b instanceof Exact ? a.sign(b) === 0 : a === b;
  },

  // What a tree comes to; `names` finds what a name stands for.
  value(data, tree, names) {
    const [kind, ...rest] = tree, of = (part) => this.value(data, part, names);
    switch (kind) {
      case "n": return Exact.read(rest[0]);
      case "s": return rest[0];
      case "true": return true;
      case "false": return false;
      case "none": return null;
      case "v": return names(rest[0]);
      case "not": return !this.holds(of(rest[0]));
      case "and": return rest.every((part) => this.holds(of(part)));
      case "or": return rest.some((part) => this.holds(of(part)));
      case "if": return of(rest[this.holds(of(rest[0])) ? 1 : 2]);
      case "list": return rest.map(of);
      case "table": return new Map(rest.map(([key, item]) => [of(key), of(item)]));
      case "text": return this.joined(rest.map(of));
      case "each": return [...this.each(data, rest, names)];
      case "first": {
        const { value, done } = this.each(data, rest, names).next();
        return done ? null : value;
      }
      case "call": return this.called(data, rest[0], rest.slice(1).map(of), names);
      default: return this.operation(kind, of(rest[0]), of(rest[1]));
    }
  },
  *each(data, [name, over, kept, item], names) {
    for (const one of this.value(data, over, names) || []) {
      const inner = this.scope((word) => (word === name ? one : names(word)), names.outside);
      if (this.holds(this.value(data, kept, inner))) yield this.value(data, item, inner);
    }
  },
  joined(parts) {
    if (parts.some((part) => part === null || part === undefined || part === false)) return null;
    return parts.map((part) => (part instanceof Exact ? part.text() : part)).join("");
  },
  operation(kind, a, b) {
    if (kind === "==" || kind === "!=") return this.same(a, b) === (kind === "==");
    if (kind === "in" || kind === "not in") return (b || []).some((each) => this.same(a, each)) === (kind === "in");
    if (kind === "get") {
      if (a instanceof Map) return a.has(b) ? a.get(b) : null;
      return this.holds(a) && b !== null ? a[Number(b.text())] : null;
    }
    if (kind === "+" && Array.isArray(a) && Array.isArray(b)) return [...a, ...b];
    if (!(a instanceof Exact && b instanceof Exact)) return null;
    switch (kind) {
      case "+": return a.plus(b);
      case "-": return a.minus(b);
      case "*": return a.times(b);
      case "/": return a.by(b);
      case "<": return a.sign(b) < 0;
      case "<=": return a.sign(b) <= 0;
      case ">": return a.sign(b) > 0;
      default: return a.sign(b) >= 0;
    }
  },
  called(data, name, given, names) {
    if (!(name in data.functions)) return this.functions[name].call(this, data, ...given);
    const [takes, tree] = data.functions[name];
    const own = (word) => (takes.includes(word) ? given[takes.indexOf(word)] : names.outside(word));
    return this.value(data, tree, this.scope(own, names.outside));
  },
  scope(names, outside) { return Object.assign(names, { outside }); },  // outside: without names of an `each` or a function

  // The same functions as in interview/functions.py.
  functions: {
    known(_, v) { return v !== null && v !== undefined && v !== false; },
    least(_, ...items) { return this.numbers(items).reduce((a, b) => (a === null || b.sign(a) < 0 ? b : a), null); },
    most(_, ...items) { return this.numbers(items).reduce((a, b) => (a === null || b.sign(a) > 0 ? b : a), null); },
    count(_, items) { return this.number(this.holds(items) ? items.length : 0); },
    join(data, items, between) {
      const parts = (items || []).filter((item) => this.functions.known(data, item));
      return parts.length ? parts.map((item) => (item instanceof Exact ? item.text() : item)).join(between) : null;
    },
    down(_, v, step) { return v instanceof Exact ? new Exact(v.by(step).floor()).times(step) : null; },
    steps(_, low, high, by) {
      const found = [];
      for (let at = low; at.sign(high) <= 0; at = at.plus(by)) found.push(at);
      return found;
    },
    first(_, items) { return items && items.length ? items[0] : null; },
    last(_, items) { return items && items.length ? items[items.length - 1] : null; },
    rest(_, items) { return items ? items.slice(1) : []; },
    flat(_, items) { return (items || []).flat(); },
    keys(_, table) { return this.holds(table) ? [...table.keys()] : []; },
    quoted(_, v) { return typeof v === "string" ? `"${v.replace(/\\/g, "\\\\").replace(/"/g, '\\"')}"` : null; },
    flag(_, v) { return v === null || v === undefined ? null : this.holds(v) ? "true" : "false"; },
    spoken(_, v) { return typeof v === "string" ? v.replaceAll("-", " ") : null; },
    padded(_, v, width) { return typeof v === "string" ? v.padEnd(Number(width.text())) : null; },
    charge(data, chemistry, volts) {
      if (!this.functions.known(data, chemistry) || !(volts instanceof Exact)) return null;
      const left = data.cells.sets[chemistry].map((table) => this.chargeBy(data, table, volts)).sort((a, b) => a.sign(b));
      const half = left.length >> 1;
      return left.length % 2 ? left[half] : left[half - 1].plus(left[half]).by(this.number(2));
    },
    percent(_, v) { return v instanceof Exact ? `${v.over > 0n ? "+" : ""}${this.short(v)} %` : null; },
    motor(data, v) {
      if (!(v instanceof Exact)) return null;
      const hundred = this.short(v.plus(this.number(100)).by(this.number(2))), us = this.short(v.times(this.number(5)).plus(this.number(1500)));
      return `${this.functions.percent.call(this, data, v)} (${hundred} of 100, ${us} µs)`;
    },
  },
  numbers(items) { return items.flat().filter((item) => item instanceof Exact); },
  short(v) { return new Exact(v.times(this.number(100)).plus(new Exact(1n, 2n)).floor(), 100n).text(); },
  chargeBy(data, table, volts) {
    const at = volts.times(this.number(data.cells.units)), above = table.findIndex((each) => this.number(each).sign(at) > 0);
    if (above === 0) return this.number(0);
    if (above < 0) return this.number(100);
    const [low, high, one, two] = [table[above - 1], table[above], data.cells.charge[above - 1], data.cells.charge[above]].map((n) => this.number(n));
    return at.minus(low).by(high.minus(low)).times(two.minus(one)).plus(one);
  },

  // -- replies

  trimmed(text) { return text.replace(/^[\t-\r\x1c-\x20\x85\xa0\u1680\u2000-\u200a\u2028\u2029\u202f\u205f\u3000]+|[\t-\r\x1c-\x20\x85\xa0\u1680\u2000-\u200a\u2028\u2029\u202f\u205f\u3000]+$/g, ""); },
  tidied(data, reply) {
    return data.words.tidy.reduce((text, [pattern, by]) => text.replace(new RegExp(pattern, "gu"), by), this.trimmed(reply).toLowerCase());
  },
  full(pattern, text) { return new RegExp(`^(?:${pattern})$`, "u").exec(text); },
  complaint(data, which, names) {
    return { complaint: this.value(data, data.complaints[which], (word) => (word in names ? names[word] : null)) };
  },
  // What a reply means: a value, or {complaint}.
  answer(data, question, reply, channels) {
    const text = this.trimmed(reply), low = this.tidied(data, text);
    if (data.words.unknown.includes(low)) return null;
    if (question.none && data.words.none.includes(low)) return false;
    if (question.yes_no || question.choices.length) {
      const words = question.yes_no ? ["yes", "no"] : question.choices;
      const fitting = words.includes(low) ? [low] : words.filter((word) => low && word.startsWith(low));
      if (fitting.length !== 1) return this.complaint(data, "choice", { words, needed: question.needed, none: question.none });
      return question.yes_no ? fitting[0] === "yes" : fitting[0];
    }
    if (question.sticks) return this.names(data, data.readers.names, low, data.sticks) || this.complaint(data, "sticks", { words: data.sticks });
    const rules = data.readers[question.reader], found = this.reading(data, rules, text, low, channels);
    return found === null ? this.complaint(data, "misread", { reply: text, says: rules.says, none: question.none }) : found;
  },
  reading(data, rules, text, low, channels) {
    if (rules.pairs) return this.pairs(rules, low, channels || []);
    if (rules.list) return this.names(data, rules, low);
    if (rules.names) {
      const name = low.replace(/[ _]+/g, "-");
      return this.full(rules.pattern, name) && !data.taken.includes(name) ? name : null;
    }
    if (rules.pattern) return this.full(rules.pattern, text) ? text : null;
    if (rules.words && Object.hasOwn(rules.words, low)) return rules.words[low];
    const printed = this.full("([^()]+) \\(([^()]+)\\)", low);
    if (!printed) return this.oneNumber(data, rules, low);
    const numbers = [printed[1], ...printed[2].split(", ")].map((part) => this.oneNumber(data, rules, part)), [one] = numbers;
    const rounded = new Exact(1n, 50n), near = (a, b) => a.minus(b).sign(rounded) <= 0 && b.minus(a).sign(rounded) <= 0;
    return one !== null && numbers.every((each) => each !== null && near(each, one)) ? one : null;
  },
  // What it says; null where it may as well be a thousand times that: 2,600 mAh, which some write for 2600.
  oneNumber(data, rules, low) {
    const grouped = low.replace(/(^|[^0-9.])([1-9][0-9]{0,2})\.([0-9]{3})(?![0-9])/g, "$1$2$3");
    return grouped !== low && this.plainNumber(data, rules, grouped) !== null ? null : this.plainNumber(data, rules, low);
  },
  plainNumber(data, rules, low) {
    for (const [pattern, made] of rules.forms) {
      const found = this.full(pattern, low);
      if (!found) continue;
      const number = this.value(data, made, (word) => (word === "x" ? Exact.read(found[1]) : null));
      const inside = number.sign(Exact.read(rules.low)) >= 0 && number.sign(Exact.read(rules.high)) <= 0;
      return inside && (number.under === 1n || !rules.whole) ? number : null;
    }
    return null;
  },
  names(data, rules, low, among) {
    const names = low.split(",").map((part) => this.trimmed(part).replace(/[ _]+/g, "-"));
    const fit = names.every((name) => this.full(rules.pattern, name) && (among ? among.includes(name) : !data.taken.includes(name)));
    return fit && new Set(names).size === names.length && names.length <= rules.most ? names : null;
  },
  pairs(rules, low, channels) {
    const found = new Map(), numbers = new Set();
    for (const part of low.split(/[ ,]+/)) {
      const [, name, number] = /^([^=]*)=([0-9]{1,2})$/.exec(part) || [];
      if (!channels.includes(name) || found.has(name) || Number(number) < Number(rules.low) || Number(number) > Number(rules.high)) return null;
      found.set(name, Exact.read(number));
      numbers.add(Number(number));
    }
    return numbers.size === found.size ? found : null;
  },
  shown(data, question, v) {
    if (v === null || v === undefined) return "not known";
    if (typeof v === "boolean") return v ? "yes" : "no";
    if (question.choices.length) return v;
    const rules = data.readers[question.sticks ? "names" : question.reader];
    return this.value(data, rules.shown, (word) => (word === "x" ? v : null));
  },

  // -- the course: every question that is asked with these replies, what each reply means, and why not

  values: new WeakMap(),  // by the answers that they follow from, until one of these changes
  lookUp(data, answers, own) {
    const outside = (name) => {
      if (Object.hasOwn(answers, name)) return answers[name];
      if (Object.hasOwn(data.values, name)) {
        if (!this.values.has(answers)) this.values.set(answers, new Map());
        const found = this.values.get(answers);
        if (!found.has(name)) found.set(name, this.value(data, data.values[name], this.lookUp(data, answers, {})));
        return found.get(name);
      }
      return name === "newline" ? "\n" : null;
    };
    return this.scope((name) => (Object.hasOwn(own, name) ? own[name] : outside(name)), outside);
  },
  keep(answers, question, item, v) {
    if (item === null) answers[question.key] = v;
    else answers[question.key].set(item, v);
    this.values.delete(answers);
  },
  course(data, replies) {
    const found = { steps: [], answers: {} };
    let section = "";
    for (const question of data.questions) {
      section = question.section || section;
      const items = question.each ? this.value(data, question.each, this.lookUp(data, found.answers, {})) || [] : [null];
      if (question.each) this.keep(found.answers, question, null, new Map());
      for (const item of items) {
        const names = this.lookUp(data, found.answers, { each: item });
        if (question.when && !this.holds(this.value(data, question.when, names))) continue;
        found.steps.push({ ...this.step(data, question, item, replies, found.answers, names), section });
      }
    }
    return found;
  },
  step(data, question, item, replies, answers, names) {
    const key = item === null ? question.key : `${question.key} ${item}`;
    let byDefault = question.default ? this.value(data, question.default, names) : null;
    if (Object.hasOwn(data.suggested, question.key)) byDefault = data.suggested[question.key];
    const step = { question, key, item, text: this.value(data, question.ask, names), default: byDefault, complaint: "", answer: null };
    step.reply = Object.hasOwn(replies, key) ? replies[key] : null;
    const answer = this.answered(data, step, names);
    if (answer !== null && typeof answer === "object" && "complaint" in answer) return { ...step, complaint: answer.complaint };
    this.keep(answers, question, item, answer);
    for (const [test, words] of question.refuse) {
      if (!this.holds(this.value(data, test, names))) continue;
      const complaint = this.value(data, words, names);
      this.keep(answers, question, item, null);
      return { ...step, complaint };
    }
    return { ...step, answer };
  },
  answered(data, step, names) {
    if (step.reply === null || !this.trimmed(step.reply)) {
      return step.question.needed && step.reply !== null ? this.complaint(data, "needed", {}) : step.default;
    }
    const found = this.answer(data, step.question, step.reply, step.question.reader === "places" ? names("channels") : []);
    if (found === null && step.question.needed) return this.complaint(data, "needed", {});
    return found === null ? step.default : found;
  },

  // -- the file

  setup(data, answers) {
    return data.pieces.flatMap((piece) => {
      const items = piece.each ? this.value(data, piece.each, this.lookUp(data, answers, {})) || [] : [null];
      return items.flatMap((item) => {
        const names = this.lookUp(data, answers, { each: item });
        if (piece.when && !this.holds(this.value(data, piece.when, names))) return [];
        const lines = piece.lines.map((line) => (line.length > 1 ? this.value(data, line, names) : ""));
        return [lines.filter((line) => line !== null).map((line) => `${line}\n`).join("")];
      });
    }).join("\n");
  },
};
