"""The same set-up, written in another way: other names, another order of its tables, formulas that are equal."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from copy import deepcopy
from random import Random
from typing import Any

from tests.oracle.formula import (
    And,
    Compare,
    Condition,
    Const,
    Follows,
    Formula,
    Is,
    ModeIs,
    Not,
    Or,
    Output,
    leaves,
    parse,
)

File = dict[str, Any]
PARTS = ("switches", "knobs", "sensors", "conditions", "modes", "curves", "channels", "overrides", "alarms", "timers")
CONTROLS = ("switches", "knobs", "sensors", "conditions")  # one space of names
STICKS = ("throttle", "aileron", "elevator", "rudder")
FORMULAS = (
    *(("conditions", "when"), ("conditions", "until"), ("modes", "when"), ("overrides", "when"), ("alarms", "when")),
    *(("timers", "runs"), ("start", "requires"), ("intent", "hold"), ("intent", "stop"), ("intent", "rescue")),
    ("trainer", "lent"),
)
ONE_TABLE = ("start", "intent", "trainer")  # the others hold a table for each name


def spelled(formula: Formula) -> str:
    match formula:
        case Not(part):
            return f"not ({spelled(part)})"
        case And(parts):
            return " and ".join(f"({spelled(part)})" for part in parts)
        case Or(parts):
            return " or ".join(f"({spelled(part)})" for part in parts)
        case Is(name, word):
            return f"{name} is {word}"
        case Compare(name, op, at):
            return f"{name} {op} {decimal(at)}"
        case Condition(name):
            return name
        case ModeIs(mode):
            return f"mode is {mode}"
        case Output(channel, op, at):
            return f"output {channel} {op} {decimal(at)}"
        case Follows(channel, stick):
            return f"{channel} follows {stick}"
    return str(formula.name)  # type: ignore[union-attr]


def decimal(at: Any) -> str:
    return str(int(at)) if at.denominator == 1 else str(float(at))


def with_formulas(file: File, change: Callable[[Formula], Formula]) -> File:
    """The file with every formula changed; claims too, which name channels."""
    new = deepcopy(file)
    for table, key in FORMULAS:
        holders = [new.get(table, {})] if table in ONE_TABLE else list(new.get(table, {}).values())
        for holder in holders:
            if key in holder:
                holder[key] = spelled(change(parse(holder[key])))
    for claim in new.get("claims", []):
        for key in claim.keys() & {"never", "always"}:
            claim[key] = spelled(change(parse(claim[key], claim=True)))
    return new


# -- other names


class Names:
    """Every part's new name; those of one kind alone, or of all."""

    def __init__(self, file: File, kinds: tuple[str, ...] = PARTS, positions: bool = True) -> None:
        self.parts = {kind: {n: f"{n}-too" if kind in kinds else n for n in file.get(kind, {})} for kind in PARTS}
        self.controls = {name: new for kind in CONTROLS for name, new in self.parts[kind].items()}
        given = {name: table.get("positions", []) for name, table in file.get("switches", {}).items()}
        self.positions = {name: {p: f"{p}-there" if positions else p for p in words} for name, words in given.items()}

    def position(self, switch: str, word: str) -> str:
        return self.positions.get(switch, {}).get(word, word)

    def formula(self, formula: Formula) -> Formula:
        match formula:
            case Not(part):
                return Not(self.formula(part))
            case And(parts):
                return And(tuple(map(self.formula, parts)))
            case Or(parts):
                return Or(tuple(map(self.formula, parts)))
            case Is(name, word):
                return Is(self.controls[name], self.position(name, word))
            case Compare(name, op, at):
                return Compare(self.controls.get(name, name), op, at)
            case Condition(name):
                return Condition(self.controls[name])
            case ModeIs(mode):
                return ModeIs(self.parts["modes"][mode])
            case Output(channel, op, at):
                return Output(self.parts["channels"][channel], op, at)
        return formula

    def term(self, table: File) -> File:
        """The main term of a channel, one of its mix, or a line in a mode."""
        new = dict(table)
        source = table.get("from")
        if isinstance(source, str):
            new["from"] = self.controls.get(source, source)
        if "values" in table:
            switch = next((s for s in self.positions if s == source), str(source))
            new["values"] = {self.position(switch, word): x for word, x in table["values"].items()}
        for key in ("rate", "expo"):
            if isinstance(table.get(key), dict):
                switch = table[key]["switch"]
                at = {self.position(switch, word): x for word, x in table[key]["at"].items()}
                new[key] = {"switch": self.controls[switch], "at": at}
        if table.get("curve", "straight") != "straight":
            new["curve"] = self.parts["curves"][table["curve"]]
        if "mix" in table:
            new["mix"] = [self.term(each) for each in table["mix"]]
        if "in" in table:
            new["in"] = {
                self.parts["modes"][m]: self.term({"from": source, **line} if "values" in line else line)
                for m, line in table["in"].items()
            }
        return new


def renamed(file: File, names: Names) -> File:
    new = with_formulas(file, names.formula)
    for table in new.get("switches", {}).values():
        if "positions" in table:
            name = next(n for n, t in new["switches"].items() if t is table)
            table["positions"] = [names.position(name, word) for word in table["positions"]]
    new["channels"] = {name: names.term(table) for name, table in new.get("channels", {}).items()}
    for kind in PARTS:
        if kind in new:
            new[kind] = {names.parts[kind][name]: table for name, table in new[kind].items()}
    channels: Mapping[str, str] = names.parts["channels"]
    for holder in (
        *new.get("overrides", {}).values(),
        new.get("intent", {}).get("level"),
        new.get("intent", {}).get("lift"),
    ):
        if isinstance(holder, dict):
            holder["channel"] = channels[holder["channel"]]
    if "failsafe" in new:
        new["failsafe"] = {channels[name]: value for name, value in new["failsafe"].items()}
    return new


# -- another order


def reordered(file: File, seed: int = 0) -> File:
    """Tables in another order, but for modes; and those within them."""
    chance = Random(seed)

    def shuffled(table: File) -> File:
        return {key: table[key] for key in chance.sample(list(table), len(table))}

    new = shuffled(deepcopy(file))
    for kind in PARTS:
        if kind in new and kind != "modes":
            new[kind] = shuffled(new[kind])
        for name, table in new.get(kind, {}).items():
            new[kind][name] = shuffled(table)
    return new


# -- equal formulas


class Rewriter:
    """Formulas that are equal to others, by the laws of logic and what switches and sticks are."""

    def __init__(self, file: File, chance: Random, *, strange: bool = True) -> None:
        """`strange`: switches that a formula does not name may come into it, in ways that do not matter."""
        self.file, self.chance, self.strange = file, chance, strange
        self.words = {n: t.get("positions") or DEFAULT[t["kind"]] for n, t in file.get("switches", {}).items()}
        self.sticks = {*STICKS, *file.get("knobs", {})}

    def formula(self, formula: Formula) -> Formula:
        """Rewritten anywhere within, and as a whole."""
        match formula:
            case Not(part):
                formula = Not(self.formula(part))
            case And(parts):
                formula = And(tuple(map(self.formula, parts)))
            case Or(parts):
                formula = Or(tuple(map(self.formula, parts)))
        laws = [
            self.twice,
            self.morgan,
            self.turned,
            self.spread,
            self.absorbed,
            self.either_way,
            self.place,
            self.inlined,
        ]
        return self.chance.choice([*laws, lambda f: f, lambda f: f])(formula)

    def twice(self, formula: Formula) -> Formula:
        return Not(Not(formula))

    def morgan(self, formula: Formula) -> Formula:
        match formula:
            case And(parts):
                return Not(Or(tuple(map(Not, parts))))
            case Or(parts):
                return Not(And(tuple(map(Not, parts))))
        return formula

    def turned(self, formula: Formula) -> Formula:
        match formula:
            case And(parts) | Or(parts):
                return type(formula)(tuple(reversed(parts)))
        return formula

    def spread(self, formula: Formula) -> Formula:
        """a and (b or c): (a and b) or (a and c)."""
        match formula:
            case And((first, Or(parts))):
                return Or(tuple(And((first, part)) for part in parts))
            case Or((first, And(parts))):
                return And(tuple(Or((first, part)) for part in parts))
        return formula

    def absorbed(self, formula: Formula) -> Formula:
        other = self.leaf(formula)
        if self.chance.random() < 0.5:
            return Or((formula, And((formula, other))))
        return And((formula, Or((other, formula))))

    def either_way(self, formula: Formula) -> Formula:
        other = self.leaf(formula)
        return Or((And((formula, other)), And((formula, Not(other)))))

    def leaf(self, formula: Formula) -> Formula:
        if not self.words or not self.strange:
            return self.chance.choice(list(leaves(formula)))
        switch = self.chance.choice(list(self.words))
        return Is(switch, self.chance.choice(self.words[switch]))

    def place(self, formula: Formula) -> Formula:
        """A position by all others; a comparison of a stick by its opposite."""
        match formula:
            case Is(name, word) if name in self.words:
                return And(tuple(Not(Is(name, other)) for other in self.words[name] if other != word))
            case Compare(name, op, at) if name in self.sticks:
                return Not(Compare(name, {"<": ">=", ">=": "<", ">": "<=", "<=": ">"}[op], at))
        return formula

    def inlined(self, formula: Formula) -> Formula:
        match formula:
            case Condition(name):
                table = self.file["conditions"][name]
                if table.keys() <= {"when"}:
                    return parse(table["when"])
        return formula


DEFAULT = {
    "momentary": ["released", "pulled"],
    "two-position": ["off", "on"],
    "three-position": ["up", "middle", "down"],
}


def rewritten(file: File, seed: int = 0, *, strange: bool = True) -> File:
    """Every formula by an equal one, and every second condition's in a condition of its own."""
    rewriter = Rewriter(file, Random(seed), strange=strange)
    new = with_formulas(file, lambda f: f if isinstance(f, Const) else rewriter.formula(f))
    for n, (name, table) in enumerate(list(new.get("conditions", {}).items())):
        if n % 2:
            new["conditions"][f"{name}-part"] = {"when": table["when"]}
            table["when"] = f"{name}-part"
    return new
