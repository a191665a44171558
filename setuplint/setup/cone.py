"""What a formula rests on: the part of the graph that can reach it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from functools import cached_property

from setuplint.setup import formulas as f
from setuplint.setup.contents import NUMBERS, Cell
from setuplint.setup.model import BySwitch, Channel, Line, Override, Setup
from setuplint.setup.predicates import predicate_formula

INTENT = {"level": "levelled", "lift": "lifted"}  # keys that predicates are of
DRIVEN = ("motor runs", "rotor driven", "flying")  # predicates that numbers of the craft say more of
BESIDE_PREDICATES: dict[str, frozenset[Cell]] = {
    **dict.fromkeys(DRIVEN, frozenset(("craft", key) for key in NUMBERS)),
    **{name: frozenset([("intent", key)]) for key, name in INTENT.items()},
}
Node = tuple[str, str]  # ("switch", "hold"); kinds: switch stick sensor condition mode override channel
NOTHING: frozenset[Cell] = frozenset()


class Cone:
    """A set of nodes, as the bits of a number: large files ask tens of thousands of questions. `besides`: cells that are told by
    no node."""

    __slots__ = ("besides", "bits", "cones")

    def __init__(self, cones: Cones, bits: int, besides: frozenset[Cell] = NOTHING) -> None:
        self.cones, self.bits, self.besides = cones, bits, besides

    def __contains__(self, node: Node) -> bool:
        place = self.cones.places.get(node)
        return place is not None and bool(self.bits >> place & 1)

    def __iter__(self) -> Iterator[Node]:
        return (self.cones.nodes[place] for place in _places(self.bits))

    def names(self, kind: str) -> Iterator[str]:
        """Of the nodes of one kind."""
        return self.cones.in_order(self.bits, kind)

    def __or__(self, other: Iterable[Node]) -> Cone:
        bits = other.bits if isinstance(other, Cone) else sum({self.cones.bit(node) for node in other})
        return Cone(self.cones, self.bits | bits)


class Cones:
    """Cones of one setup's formulas, each part worked out once."""

    def __init__(self, setup: Setup) -> None:
        self.setup = setup
        self.nodes: list[Node] = []
        self.places: dict[Node, int] = {}
        self.kinds: dict[str, int] = {}  # the bits of all nodes of a kind
        self.parts: dict[Node, int] = {}
        self.told: dict[int, frozenset[Cell]] = {}
        self.known: dict[f.Formula, tuple[int, frozenset[Cell]]] = {}  # the cones of what was asked about
        self.predicates: dict[str, f.Formula] = {}
        self.sorted: dict[tuple[f.Formula, ...], tuple[f.Formula, ...]] = {}
        self.under_modes: int | None = None
        self.of_lines: dict[str, set[Cell]] = {}
        self.thresholds = Thresholds(setup)
        for name in setup.conditions:  # in dependency order, so that a chain of thousands does not go as deep
            self.part(("condition", name))

    def bit(self, node: Node) -> int:
        place = self.places.get(node)
        if place is None:
            place = self.places[node] = len(self.nodes)
            self.nodes.append(node)
            self.kinds[node[0]] = self.kinds.get(node[0], 0) | 1 << place
        return 1 << place

    def of(self, formulas: Iterable[f.Formula]) -> Cone:
        """The union of the cones of some formulas."""
        return Cone(self, *_union(map(self.of_formula, formulas)))

    def bits_of(self, formula: f.Formula) -> int:
        """The cone of one formula, as a number."""
        return self.of_formula(formula)[0]

    def of_formula(self, formula: f.Formula) -> tuple[int, frozenset[Cell]]:
        """The cone of one formula, as a number, and cells that it rests on besides."""
        found = self.known.get(formula)
        if found is None:
            if isinstance(formula, f.JOINED):
                found = _union(map(self.of_formula, formula.items))
            elif isinstance(formula, f.Not):
                found = self.of_formula(formula.item)
            else:
                found = self._under(self._direct(formula)), self._besides(formula)
            self.known[formula] = found
        return found

    def predicate(self, name: str) -> f.Formula:
        """What a predicate says of the setup: the same formula each time."""
        found = self.predicates.get(name)
        if found is None:
            found = self.predicates[name] = predicate_formula(self.setup, name)
        return found

    def least_first(self, items: tuple[f.Formula, ...]) -> tuple[f.Formula, ...]:
        """The items of a formula, those that rest on least before the others."""
        found = self.sorted.get(items)
        if found is None:
            found = self.sorted[items] = tuple(sorted(items, key=lambda item: self.of_formula(item)[0].bit_count()))
        return found

    def part(self, node: Node) -> int:
        known = self.parts.get(node)
        if known is None:
            known = self.parts[node] = self.bit(node)  # a loop cannot come back for more
            known |= self._under_modes() if node[0] == "mode" else self._under(self._inputs(node))
            self.parts[node] = known
        return known

    def _under(self, nodes: Iterable[Node]) -> int:
        bits = 0
        for each in nodes:
            part = self.part(each)
            bits = bits | part if bits else part  # of one alone, the number itself: a chain of thousands has as many
        return bits

    def _under_modes(self) -> int:
        """What any mode rests on: all of it, as the first that holds is flown."""
        if self.under_modes is None:
            self.under_modes = 0
            formulas = [m.when for m in self.setup.modes.values() if m.when is not None]
            self.under_modes = self._under(node for x in formulas for atom in f.atoms(x) for node in self._direct(atom))
        return self.under_modes

    def in_order(self, bits: int, kind: str) -> Iterator[str]:
        """The names of one kind among some bits; conditions in dependency order, as that is how they got their bits."""
        return (self.nodes[place][1] for place in _places(bits & self.kinds.get(kind, 0)))

    def _besides(self, atom: f.Formula) -> frozenset[Cell]:
        """Cells that a formula rests on and its cone has no part for: alarms that sound, numbers that a predicate compares with,
        in a latch of a question's own too, and, where it asks what a stick changes, every condition and mode, as any could
        compare it."""
        match atom:
            case f.Predicate(name):
                return BESIDE_PREDICATES.get(name, NOTHING)
            case f.Holds(name):
                latch = self.setup.conditions[name]
                if latch.watches:
                    return self.of(x for x in (latch.when, latch.until) if x is not None).besides
            case f.Sounds(name):
                return frozenset([("alarms", name)])
            case f.Follows() | f.Rises():
                return self.all_conditions
        return NOTHING

    @cached_property
    def by_channel(self) -> dict[str, list[Override]]:
        """The overrides of each channel: in thousands of them each channel's own are not looked for among all."""
        return channel_overrides(self.setup)

    @cached_property
    def all_conditions(self) -> frozenset[Cell]:
        """Every condition and mode."""
        names = {"conditions": self.setup.conditions, "modes": self.setup.modes}
        return frozenset((kind, name) for kind, parts in names.items() for name in parts)

    def line_cells(self, channel: Channel) -> set[Cell]:
        """Those of a channel's own lines."""
        found = self.of_lines.get(channel.name)
        if found is None:
            lines = (channel.own, *channel.lines.values())
            curves = {term.curve for line in lines for term in line.terms or () if term.curve is not None}
            found = self.of_lines[channel.name] = {("channels", channel.name), *[("curves", curve) for curve in curves]}
        return found

    def cells(self, bits: int) -> frozenset[Cell]:
        """What of the file a cone's parts are told apart by (`setup.contents`). A mode rests on all of them, as the first that
        holds is flown."""
        known = self.told.get(bits)
        if known is not None:
            return known
        setup, found = self.setup, set[Cell]()
        for kind in ("condition", "override", "channel"):
            found.update([(f"{kind}s", name) for name in self.in_order(bits, kind)])
        for name in self.in_order(bits, "channel"):
            found |= self.line_cells(setup.channels[name])
        if bits & self.kinds.get("mode", 0):
            found.update([("modes", name) for name in setup.modes])
        self.told[bits] = made = frozenset(found)
        return made

    def rests(self, kind: str, name: str, on: str, part: str) -> bool:
        """Whether one part rests on another."""
        return bool(self.part((kind, name)) & self.bit((on, part)))

    def _inputs(self, node: Node) -> Iterator[Node]:
        kind, name = node
        setup = self.setup
        formulas: list[f.Formula | None] = []
        if kind == "condition":
            condition = setup.conditions[name]
            formulas = [condition.when, condition.until]
        elif kind == "override":
            formulas = [setup.overrides[name].when]
        elif kind == "channel":
            yield from (("override", o.name) for o in self.by_channel[name])
            yield from (("mode", m) for m in setup.modes)
            channel = setup.channels[name]
            for line in (channel.own, *channel.lines.values()):
                yield from self._line(line)
        for formula in formulas:
            if formula is not None:
                for atom in f.atoms(formula):
                    yield from self._direct(atom)

    def _line(self, line: Line) -> Iterator[Node]:
        for term in line.terms or ():
            if term.kind != "number":
                yield term.kind, str(term.source)
            if term.lending is not None:
                yield "stick", term.lending.stick
                yield from self._inner(term.lending.lent)
            if term.kind == "stick":
                yield from (("switch", by.switch) for by in (term.rate, term.expo) if isinstance(by, BySwitch))

    def _direct(self, atom: f.Formula) -> Iterator[Node]:
        match atom:
            case f.SwitchIs(name, _):
                yield "switch", name
            case f.Lost(name) | f.Heard(name):
                yield "sensor", name
            case f.Compare(name, _, _):
                yield ("stick" if name in self.setup.sticks else "sensor"), name
            case f.Holds(name):
                yield "condition", name
            case f.ModeIs(name):
                yield "mode", name
            case f.Active(name):
                yield "override", name
            case f.Decides(name, _) | f.OutputCompare(name, _, _):
                yield "channel", name
            case f.Rises(name, _, _):
                yield "channel", name
            case f.Follows(name, stick):
                yield "channel", name
                yield "stick", stick
                yield from (
                    ("condition", name)
                    for name, condition in self.setup.conditions.items()
                    if not condition.watches and self.rests("condition", name, "stick", stick)
                )
            case f.Sounds(name):
                yield from self._inner(self.setup.alarms[name].when)
            case f.CellBelow():
                yield "cell", ""
            case f.Predicate(name):
                yield from self._inner(self.predicate(name))

    def _inner(self, formula: f.Formula) -> Iterator[Node]:
        for atom in f.atoms(formula):
            yield from self._direct(atom)


def _union(parts: Iterable[tuple[int, frozenset[Cell]]]) -> tuple[int, frozenset[Cell]]:
    """Of bits and of cells: these all at once, as thousands of alarms have one each."""
    bits, cells = 0, set[frozenset[Cell]]()
    for part, more in parts:
        bits = bits | part if bits else part
        if more:
            cells.add(more)
    return bits, NOTHING.union(*cells)


def channel_overrides(setup: Setup) -> dict[str, list[Override]]:
    """The overrides of each channel that there is, by its name."""
    found: dict[str, list[Override]] = {name: [] for name in setup.channels}
    for override in setup.overrides.values():
        if override.channel in found:
            found[override.channel].append(override)
    return found


def names_of_kind(cone: Cone, kind: str) -> set[str]:
    return set(cone.cones.in_order(cone.bits, kind))


def has_kind(cone: Cone, kind: str) -> bool:
    return bool(cone.bits & cone.cones.kinds.get(kind, 0))


def _places(bits: int) -> Iterator[int]:
    """Of the bits that are set, the lowest first; a number of tens of thousands of bits is gone through once."""
    text = bin(bits)[:1:-1]
    place = text.find("1")
    while place >= 0:
        yield place
        place = text.find("1", place + 1)


class Thresholds:
    """Where formulas compare sticks, each formula read once."""

    def __init__(self, setup: Setup) -> None:
        self.setup = setup
        self.everywhere: dict[str, set[Fraction]] | None = None  # in conditions and modes, by stick
        self.known: dict[tuple[str, str], list[Fraction]] = {}

    def of(self, channel: str, stick: str) -> list[Fraction]:
        """Where the formulas that could change the channel with the stick compare it."""
        found = self.known.get((channel, stick))
        if found is None:
            if self.everywhere is None:
                self.everywhere = _compared(self._formulas())
            mine = [o.when for o in self.setup.overrides.values() if o.channel == channel]
            own = _compared([*mine, *self.setup.channels[channel].lendings])
            at = self.everywhere.get(stick, set()) | own.get(stick, set())
            found = self.known[channel, stick] = sorted(x for x in at if -100 <= x <= 100)
        return found

    def _formulas(self) -> Iterator[f.Formula | None]:
        for condition in self.setup.conditions.values():
            yield from (condition.when, condition.until)
        yield from (mode.when for mode in self.setup.modes.values())


def _compared(formulas: Iterable[f.Formula | None]) -> dict[str, set[Fraction]]:
    found: dict[str, set[Fraction]] = {}
    for formula in formulas:
        for atom in f.atoms(formula) if formula is not None else ():
            if isinstance(atom, f.Compare):
                found.setdefault(atom.name, set()).add(atom.number)
    return found
