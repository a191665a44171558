"""The settled meaning as a z3 model: states from power-up unrolled step by step, or one step from any memory.

It takes files in which every curve that the asked channels use is of straight pieces (or of two points), with expo as a
polynomial, and formulas without `follows`. Unknown (Kleene) is kept as two truths for each formula.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import ceil, floor
from typing import Any

import z3  # type: ignore[import-untyped]

from .curves import Curve
from .formula import And, Compare, Condition, Const, Follows, Formula, Is, ModeIs, Not, Or, Output, channels_in, leaves
from .meaning import World
from .parts import BySwitch, Channel, Limits, Override, Term

RESOURCE = 4_000_000  # z3's own count of work for one question, so that an answer never hangs on a clock
Bool = Any
Real = Any


@dataclass(frozen=True)
class Pair:
    """Surely true, surely false; neither means unknown."""

    true: Bool
    false: Bool


def accepts(world: World, formula: str | Formula) -> bool:
    """Whether the model can express this question."""
    parsed = world.parse(formula)
    if any(isinstance(leaf, Follows) for leaf in leaves(parsed)):
        return False
    terms = [t for c in channels_in(parsed) for line in world.channels[c].lines.values() for t in line.terms or ()]
    return all(t.curve is None or _straight(world.curves[t.curve]) is not None for t in terms)


def _straight(kinds: Mapping[str, Curve]) -> Curve | None:
    """The curve, if it is made of straight pieces."""
    curve = next(iter(kinds.values()))
    return curve if "none" in kinds or len(curve.xs) == 2 else None


def number(x: Fraction) -> Any:
    return z3.RealVal(f"{x.numerator}/{x.denominator}")


class Instant:
    """One state of the controls, the conditions and memory it gives, as z3 terms."""

    def __init__(self, world: World, name: str, memory: list[Bool]) -> None:
        self.world = world
        self.name = name
        self.limits: list[Bool] = []
        self.heard = z3.Bool(f"{name} heard")
        self.switch = {s: z3.Int(f"{name} {s}") for s in world.switches}
        self.analog = {s: self.real(f"{name} {s}", Fraction(-100), Fraction(100)) for s in world.analogs}
        self.volts = self.real(f"{name} cell voltage", Fraction(0), Fraction(5))
        self.lost = {s: z3.Bool(f"{name} {s} lost") for s in world.sensors}
        self.shown = {s: self.sensor(f"{name} {s} shown", s) for s in world.sensors}
        for s, words in world.switches.items():
            self.limits += [self.switch[s] >= 0, self.switch[s] < len(words)]
        self.conditions: dict[str, Bool] = {}
        self.mode: dict[str, Bool] = {}
        self.memory = list(memory)
        for node in world.order:
            if node is None:
                self.find_mode()
            else:
                self.find_condition(node)

    def real(self, name: str, low: Fraction, high: Fraction) -> Real:
        x = z3.Real(name)
        self.limits += [x >= number(low), x <= number(high)]
        return x

    def sensor(self, name: str, sensor: str) -> Real:
        factor = self.world.cell_factor(sensor)
        return self.real(name, *self.world.range_of(sensor)) if factor is None else self.volts * factor

    def find_mode(self) -> None:
        earlier: list[Bool] = []
        for name, when in self.world.modes.items():
            holds = z3.BoolVal(True) if when is None else self.formula(when).true
            self.mode[name] = z3.And(holds, *[z3.Not(x) for x in earlier])
            earlier.append(holds)

    def find_condition(self, name: str) -> None:
        condition = self.world.conditions[name]
        value = self.formula(condition.when).true
        if condition.remembers:
            at = self.world.memory_at[name]
            if condition.until is not None:
                value = z3.And(z3.Not(self.formula(condition.until).true), z3.Or(value, self.memory[at]))
                self.memory[at] = value
            else:
                self.memory[at] = z3.Xor(self.memory[at], z3.And(value, z3.Not(self.memory[at + 1])))
                self.memory[at + 1] = value
                value = self.memory[at]
        self.conditions[name] = value

    def formula(self, formula: Formula) -> Pair:
        match formula:
            case Const(value):
                return Pair(z3.BoolVal(value is True), z3.BoolVal(value is False))
            case Not(part):
                inner = self.formula(part)
                return Pair(inner.false, inner.true)
            case And(parts):
                pairs = [self.formula(part) for part in parts]
                return Pair(z3.And([p.true for p in pairs]), z3.Or([p.false for p in pairs]))
            case Or(parts):
                pairs = [self.formula(part) for part in parts]
                return Pair(z3.Or([p.true for p in pairs]), z3.And([p.false for p in pairs]))
            case Output(channel, op, limit):
                return self.output(channel, op, limit)
        known = self.leaf(formula)
        return Pair(known, z3.Not(known))

    def leaf(self, leaf: Formula) -> Bool:
        match leaf:
            case Is(name, "lost") if name in self.lost:
                return z3.And(self.heard, self.lost[name])
            case Is(name, word):
                return self.at(name, word)
            case Compare(name, op, limit):
                if name in self.analog:
                    return compare(self.analog[name], op, limit)
                return z3.And(self.heard, z3.Not(self.lost[name]), compare(self.shown[name], op, limit))
            case Condition(name):
                return self.conditions[name]
            case ModeIs(name):
                return self.mode[name]
        raise ValueError(leaf)

    def at(self, switch: str, word: str) -> Bool:
        return self.switch[switch] == self.world.switches[switch].index(word)

    # Outputs. A tie: any winner may be meant, the same one for every comparison of the channel.

    def output(self, channel: str, op: str, limit: Fraction) -> Pair:
        described, value = self.demand(self.world.channels[channel])
        true = z3.And(described, compare_rounded(value, op, limit))
        return Pair(true, z3.And(described, z3.Not(true)))

    def demand(self, channel: Channel) -> tuple[Bool, Real]:
        """Whether the channel is described here or an override decides it, and its output before rounding."""
        described: Bool = z3.BoolVal(channel.lines[None].terms is not None)
        total = self.sum(channel.lines[None].terms or ())
        for mode, line in channel.lines.items():
            if mode is not None and line != channel.lines[None]:
                described = z3.If(self.mode[mode], z3.BoolVal(line.terms is not None), described)
                total = z3.If(self.mode[mode], self.sum(line.terms or ()), total)
        given = total
        for override in [o for o in self.world.overrides if o.channel == channel.name]:
            wins = self.wins(override)
            if isinstance(override.value, Fraction):
                described, given = z3.Or(described, wins), z3.If(wins, number(override.value), given)
            else:
                given = z3.If(wins, within(total, override.value), given)
        value = -given if channel.reversed else given
        down, up = channel.travel
        value = z3.If(value < 0, value * number(down / 100), value * number(up / 100)) + number(channel.sub_trim)
        low, high = number(channel.low), number(channel.high)
        return described, z3.If(value < low, low, z3.If(value > high, high, value))

    def wins(self, override: Override) -> Bool:
        """It is the one that decides: it holds, nothing higher does, and a free number picks it out of a tie."""
        rivals = [o for o in self.world.overrides if o.channel == override.channel]
        picked = z3.Int(f"{self.name} tie on {override.channel}")
        places = {o.name: k for k, o in enumerate(rivals)}
        top = {o.name: self.on_top(o, rivals) for o in rivals}
        self.limits.append(
            z3.Or(z3.Not(z3.Or(list(top.values()))), *[z3.And(picked == places[n], top[n]) for n in top])
        )
        return z3.And(top[override.name], picked == places[override.name])

    def on_top(self, override: Override, rivals: list[Override]) -> Bool:
        higher = [self.formula(o.when).true for o in rivals if o.priority > override.priority]
        return z3.And(self.formula(override.when).true, *[z3.Not(x) for x in higher])

    def sum(self, terms: tuple[Term, ...] | tuple[()]) -> Real:
        return z3.Sum([number(Fraction(0)), *(self.term(term) for term in terms)])

    def term(self, term: Term) -> Real:
        if term.kind == "number":
            return number(term.constant)
        if term.kind == "switch":
            return self.by_switch(BySwitch(term.source, term.values))
        read = self.analog[term.source]
        if term.pupil and self.world.lent is not None:
            read = z3.If(self.formula(self.world.lent).true, self.analog[term.pupil], read)
        u = read * self.by_switch(term.rate) / 100
        u = z3.If(u > 100, number(Fraction(100)), z3.If(u < -100, number(Fraction(-100)), u))
        k, v = self.by_switch(term.expo) / 100, u / 100
        if term.expo.switch or term.expo.at[""]:
            u = 100 * ((1 - k) * v + k * v * v * v)
        return u if term.curve is None else self.curve(term.curve, u)

    def by_switch(self, amount: BySwitch) -> Real:
        if amount.switch is None:
            return number(amount.at[""])
        *words, last = amount.at
        value = number(amount.at[last])
        for word in words:
            value = z3.If(self.at(amount.switch, word), number(amount.at[word]), value)
        return value

    def curve(self, name: str, u: Real) -> Real:
        curve = _straight(self.world.curves[name])
        assert curve is not None
        points = list(zip(curve.xs, curve.ys, strict=True))
        value = number(curve.ys[-1])
        for (x0, y0), (x1, y1) in reversed(list(pairwise(points))):
            value = z3.If(u < number(x1), number(y0) + (u - number(x0)) * number((y1 - y0) / (x1 - x0)), value)
        return z3.If(u < number(curve.xs[0]), number(curve.ys[0]), value)


def compare(x: Real, op: str, limit: Fraction) -> Bool:
    n = number(limit)
    return {"<": x < n, "<=": x <= n, ">": x > n, ">=": x >= n}[op]


def within(x: Real, limits: Limits) -> Real:
    low, high = limits.low, limits.high
    x = x if low is None else z3.If(x < number(low), number(low), x)
    return x if high is None else z3.If(x > number(high), number(high), x)


def compare_rounded(x: Real, op: str, limit: Fraction) -> Bool:
    """A comparison of x rounded to 1e-6 (half to even) with a number, said of x itself."""
    if op in ("<", ">"):
        other = compare_rounded(x, ">=" if op == "<" else "<=", limit)
        return z3.Not(other)
    scaled = limit * 1_000_000
    if op == ">=":
        least = ceil(scaled)  # the least multiple that will do; half-way up to it counts if it is even
        edge = number(Fraction(2 * least - 1, 2_000_000))
        return x >= edge if least % 2 == 0 else x > edge
    most = floor(scaled)
    edge = number(Fraction(2 * most + 1, 2_000_000))
    return x <= edge if most % 2 == 0 else x < edge


def _ask(constraints: list[Bool]) -> bool | None:
    """Satisfiable or not; None where z3 gives up."""
    own = (
        z3.Context()
    )  # its search goes by the order in which terms were made, and must not hang on what was asked before
    solver = z3.Solver(ctx=own)
    solver.set("rlimit", RESOURCE)
    solver.add(*(each.translate(own) for each in constraints))
    found = solver.check()
    return None if found == z3.unknown else bool(found == z3.sat)


def find(world: World, formula: str | Formula, depth: int, unknown: bool = False) -> int | None:
    """The fewest steps after power-up, at most `depth`, to a state in which the formula is true (with `unknown`:
    unknown); None if there are none. `[start]` counts as written, also where it admits nothing. TimeoutError where z3
    gives up."""
    parsed = world.parse(formula)
    memory: list[Bool] = [z3.BoolVal(False)] * len(world.memory_off)
    path: list[Bool] = []
    heard: Bool = z3.BoolVal(False)
    for k in range(depth + 1):
        now = Instant(world, f"step {k}", memory)
        if k == 0:
            path.append(z3.Not(now.heard))
            if world.requires is not None:
                path.append(now.formula(world.requires).true)
        path.append(z3.Implies(heard, now.heard))
        answer = now.formula(parsed)
        wanted = z3.And(z3.Not(answer.true), z3.Not(answer.false)) if unknown else answer.true
        path += now.limits
        verdict = _ask([*path, wanted])
        if verdict is None:
            raise TimeoutError("z3 gave up")
        if verdict:
            return k
        memory, heard = now.memory, now.heard
    return None


def find_free(world: World, formula: str | Formula) -> bool:
    """Whether some memory and controls make the formula true in one step: False proves that it is impossible."""
    memory: list[Bool] = [z3.Bool(f"memory {k}") for k in range(len(world.memory_off))]
    now = Instant(world, "now", memory)
    answer = now.formula(world.parse(formula)).true
    verdict = _ask([*now.limits, answer])
    if verdict is None:
        raise TimeoutError("z3 gave up")
    return verdict
