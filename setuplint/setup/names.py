"""What the names in a formula are: from the tree as written to the tree that is decided."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from fractions import Fraction
from itertools import chain

from setuplint.dataclass import dataclass, field
from setuplint.fraction import fraction
from setuplint.hints import Any
from setuplint.setup.formula_parser import Atom, Group, Token, Written, parsed_formula
from setuplint.setup.formulas import (
    And,
    Compare,
    Follows,
    Formula,
    FormulaError,
    Holds,
    Lost,
    ModeIs,
    Not,
    Or,
    OutputCompare,
    Predicate,
    SwitchIs,
    Unknown,
)
from setuplint.setup.model import Path, Sensor, Setup, Stick, Switch
from setuplint.setup.problems import Nearest, SetupProblem, dotted, quoted, word_list

SHOWN: Mapping[str, tuple[int, int, str]] = {
    "pack-voltage": (0, 120, "V"),  # of a pack whose number of cells is not given
    "cell-voltage": (0, 5, "V"),
    "receiver-voltage": (0, 30, "V"),
    "current": (0, 1000, "A"),
    "charge-used": (0, 1_000_000, "mAh"),
    "rotor-speed": (0, 20_000, "turns a minute"),
    "temperature": (-60, 300, "°C"),
    "link-quality": (0, 100, "%"),
    "signal-strength": (-150, 150, "as received"),
}
"""What each kind of sensor can show, and in which unit (MEANING.md 1)."""
RANGES: Mapping[str, tuple[int, int]] = {reads: shown[:2] for reads, shown in SHOWN.items()}
UNITS: Mapping[str, str] = {reads: shown[2] for reads, shown in SHOWN.items()}

Range = tuple[Fraction, Fraction, str]
"""Least, greatest, unit."""
STICK_RANGE: Range = (Fraction(-100), Fraction(100), "%")
OUTPUT_RANGE: Range = (Fraction(-150), Fraction(150), "%")


OF_PACK = "pack-voltage"


def sensor_range(reads: str, cells: int | None) -> Range:
    low, high = RANGES[reads]
    if reads == OF_PACK and cells is not None:
        high = 5 * cells
    return Fraction(low), Fraction(high), UNITS[reads]


def ranges_with(sensor: Sensor, cells: Mapping[str, int | None]) -> list[tuple[Range, str]]:
    """Each range that a sensor has with some pack, and with which ones, where that makes a difference."""
    packs: dict[Range, list[str]] = {}
    for pack, count in cells.items() if sensor.reads == OF_PACK and sensor.cells is None else ():
        packs.setdefault(sensor_range(OF_PACK, count), []).append(pack)
    if len(packs) > 1:
        return [(found, word_list(names)) for found, names in packs.items()]
    return [(sensor_range(sensor.reads, sensor.cells or next(iter(cells.values()))), "")]


@dataclass(slots=True)
class Names:
    """Every name of one file that a formula or reference may use.

    `controls` says of each name of the shared space what it is: stick, knob, switch, sensor or condition; "broken" is
    declared, but nothing can be said of it. `open` holds the kinds of which names may be missing.
    """

    controls: dict[str, str] = field(default_factory=dict)
    positions: dict[str, tuple[str, ...]] = field(default_factory=dict)
    ranges: dict[str, list[tuple[Range, str]]] = field(default_factory=dict)  # and with which packs; empty: always
    modes: Collection[str] = ()
    channels: Collection[str] = ()
    open: frozenset[str] = frozenset()
    nearest: Nearest = field(default_factory=Nearest)
    _by_kind: dict[str, list[str]] = field(default_factory=dict)
    _by_position: dict[str, list[str]] = field(default_factory=dict)

    def add_controls(
        self,
        sticks: Mapping[str, Stick],
        switches: Mapping[str, Switch],
        sensors: Mapping[str, Sensor],
        cells: Mapping[str, int | None],
    ) -> None:
        """`cells` has how many each pack has, by what it is called."""
        for stick in sticks.values():
            self.controls[stick.name] = "knob" if stick.knob else "stick"
            self.ranges[stick.name] = [(STICK_RANGE, "")]
        for switch in switches.values():
            self.controls[switch.name] = "switch"
            self.positions[switch.name] = switch.positions
        for sensor in sensors.values():
            self.controls[sensor.name] = "sensor"
            self.ranges[sensor.name] = ranges_with(sensor, cells)

    def basis(self) -> Any:
        """All that the meaning of a formula hangs on: where it is equal, no formula means another thing."""
        return self.controls, self.positions, self.ranges, list(self.modes), list(self.channels), self.open

    def of_kinds(self, *kinds: str) -> Iterator[str]:
        """The controls of some kinds, once all of them are there."""
        if not self._by_kind:
            for name, kind in self.controls.items():
                self._by_kind.setdefault(kind, []).append(name)
        return chain.from_iterable(self._by_kind.get(kind, ()) for kind in kinds)

    def switch_with(self, position: str) -> str:
        """The one switch that has a position of this name; empty where there is none, or more."""
        if not self._by_position:
            for name, positions in self.positions.items():
                for each in positions:
                    self._by_position.setdefault(each, []).append(name)
        found = self._by_position.get(position, ())
        return found[0] if len(found) == 1 else ""

    def may_be_missing(self, *kinds: str) -> bool:
        return bool(self.open) and not self.open.isdisjoint(kinds)


def names_of_setup(setup: Setup) -> Names:
    names = Names(modes=setup.modes, channels=setup.channels)
    for path in setup.broken:
        if len(path) == 2 and path[0] in ("sticks", "knobs", "switches", "sensors"):
            names.controls[str(path[1])] = "broken"
    sticks = {name: stick for name, stick in setup.sticks.items() if stick.pupil_of is None}
    names.add_controls(sticks, setup.switches, setup.sensors, {"": setup.battery.cells})
    names.controls.update(dict.fromkeys(setup.conditions, "condition"))
    return names


PLURALS = {"stick": "sticks", "knob": "knobs", "switch": "switches", "sensor": "sensors", "condition": "conditions"}
USES = {
    "stick": "compare it with a number, as in “{} > 0”",
    "knob": "compare it with a number, as in “{} > 0”",
    "switch": "name its position, as in “{} is {}”",
    "sensor": "compare it with a number, as in “{} < 10”, or write “{} is lost”",
    "condition": "a condition stands alone: write “{}”",
}


def resolved_formula(
    written: Written, names: Names, where: Path = (), claim: bool = False
) -> tuple[Formula, list[SetupProblem]]:
    """The formula that is meant. What cannot be resolved becomes Unknown, with a problem (unless it is already known to
    be broken). Outputs and predicates stand in claims only. Thresholds outside their range are problems, and stay."""
    resolver = _Resolver(names, where, claim)
    return resolver.tree(written), resolver.problems


def claim_formula(text: str, setup: Setup, names: Names | None = None) -> Formula:
    """A formula of a rule or a question, where outputs and predicates may stand; `names` are those of the setup. FormulaError,
    with the place in the text, where it cannot be read or names nothing."""
    formula, problems = resolved_formula(parsed_formula(text), names or names_of_setup(setup), claim=True)
    for problem in problems:
        start, end = problem.within or (0, len(text))
        raise FormulaError(problem.message, problem.help, start, end)
    return formula


def known_names_hint(kind: str, names: Collection[str]) -> str:
    """What to do about a mode or channel that is not there, where none looks like it."""
    return f"the {kind} are {word_list(names, 'and')}" if names else f"declare it in [{kind}]"


class _Resolver:
    def __init__(self, names: Names, where: Path, claim: bool) -> None:
        self.names, self.where, self.claim = names, where, claim
        self.problems: list[SetupProblem] = []

    def tree(self, written: Written) -> Formula:
        if isinstance(written, Group):
            items = tuple(self.tree(item) for item in written.items)
            return And(items) if written.kind == "and" else Or(items) if written.kind == "or" else Not(items[0])
        formula = self.atom(written)
        return Not(formula) if written.negated and not isinstance(formula, Unknown) else formula

    def atom(self, atom: Atom) -> Formula:
        first = atom.words[0].text
        match atom.kind:
            case "name":
                return self.condition(atom, first)
            case "is":
                return self.position(atom, first, atom.words[1])
            case "compare":
                return self.comparison(atom, first)
            case "mode":
                word = atom.words[1]
                return ModeIs(word.text) if word.text in self.names.modes else self.undeclared("mode", word)
        if not self.claim:
            return self.claims_only(atom)
        match atom.kind:
            case "output":
                return self.output(atom)
            case "follows":
                return self.follows(atom)
        return Predicate(" ".join(word.text for word in atom.words))

    def condition(self, atom: Atom, name: str) -> Formula:
        kind = self.names.controls.get(name)
        if kind == "condition":
            return Holds(name)
        return self.no_such(atom.words[0], kind, "condition")

    def position(self, atom: Atom, name: str, word: Token) -> Formula:
        kind = self.names.controls.get(name)
        if word.text == "lost":
            return Lost(name) if kind == "sensor" else self.no_such(atom.words[0], kind, "sensor")
        if kind != "switch":
            return self.no_such(atom.words[0], kind, "switch")
        positions = self.names.positions[name]
        if word.text in positions:
            return SwitchIs(name, word.text)
        message = f"{name} has no position {quoted(word.text)}"
        known = f"its positions are {word_list(positions, 'and')}"
        return self.unknown_name(word, f"{name} is {word.text}", message, positions, known)

    def comparison(self, atom: Atom, name: str) -> Formula:
        kind = self.names.controls.get(name)
        if kind not in ("stick", "knob", "sensor"):
            return self.no_such(atom.words[0], kind, "stick", "knob", "sensor")
        number = atom.words[2]
        self.check_range(number, self.names.ranges[name], name, "never shows" if kind == "sensor" else "never gives")
        return Compare(name, atom.words[1].text, fraction(number.text))

    def output(self, atom: Atom) -> Formula:
        channel, op, number = atom.words[1:]
        if channel.text not in self.names.channels:
            return self.undeclared("channel", channel)
        self.check_range(number, [(OUTPUT_RANGE, "")], f"the output of {channel.text}", "is never")
        return OutputCompare(channel.text, op.text, fraction(number.text))

    def follows(self, atom: Atom) -> Formula:
        channel, _, stick = atom.words
        kind = self.names.controls.get(stick.text)
        bad = [self.undeclared("channel", channel)] if channel.text not in self.names.channels else []
        if kind not in ("stick", "knob"):
            bad.append(self.no_such(stick, kind, "stick", "knob"))
        return bad[0] if bad else Follows(channel.text, stick.text)

    def claims_only(self, atom: Atom) -> Unknown:
        text = " ".join(word.text for word in atom.words)
        if atom.kind == "predicate" and self.names.controls.get(text) is not None:
            return Unknown(f"{text} is not a name for a condition")
        help = "say here which switches, sensors, conditions or modes are meant"
        self.problem("not-a-setup", f"{quoted(text)} can be asked in claims and rules only", help, atom, text)
        return Unknown(f"{text} cannot be asked in {dotted(self.where)}")

    def undeclared(self, kind: str, word: Token) -> Unknown:
        """A mode or channel that is not there."""
        if self.names.may_be_missing(f"{kind}s"):
            return Unknown(f"{kind} {word.text} may be one that could not be read")
        known = self.names.modes if kind == "mode" else self.names.channels
        message = f"there is no {kind} {quoted(word.text)}"
        return self.unknown_name(word, f"{kind} {word.text}", message, known, known_names_hint(f"{kind}s", known))

    def no_such(self, word: Token, kind: str | None, *wanted: str) -> Unknown:
        """A name that is nothing, or nothing of the wanted kinds."""
        name = word.text
        if kind == "broken":
            return Unknown(f"{name} cannot be read")
        if kind is None:
            if self.names.may_be_missing(*PLURALS.values()):
                return Unknown(f"{name} may be one that could not be read")
            message = f"there is no {word_list(wanted)} {quoted(name)}"
            offered, help = self.names.of_kinds(*wanted), "declare it, or write another name"
            if "condition" in wanted and (switch := self.names.switch_with(name)):
                offered, help = iter(()), f"did you mean “{switch} is {name}”?"
            elif self.claim and name in self.names.channels:
                offered, help = iter(()), f"did you mean “output {name}”?"
            return self.unknown_name(word, name, message, offered, help)
        use = USES[kind].format(name, (self.names.positions.get(name) or ("on",))[-1] if kind == "switch" else name)
        self.problem("not-a-setup", f"{name} is a {kind}, where a {word_list(wanted)} belongs", use, word, name)
        return Unknown(f"{name} is a {kind}")

    def unknown_name(self, word: Token, subject: str, message: str, offered: Iterable[str], otherwise: str) -> Unknown:
        near = self.names.nearest.match(word.text, offered)
        help = f"did you mean {near}?" if near else otherwise
        self.problem("unknown-name", message, help, word, subject)
        return Unknown(f"{dotted(self.where)} names {quoted(word.text)}, which nothing declares")

    def check_range(self, number: Token, ranges: Iterable[tuple[Range, str]], what: str, never: str) -> None:
        beyond = [each for each in ranges if not each[0][0] <= fraction(number.text) <= each[0][1]]
        if beyond:
            low, high, unit = min((limits for limits, _ in beyond), key=lambda limits: limits[1])
            goes = word_list((f"from {low} to {high}" for (low, high, _), _ in beyond), "and")
            packs = " " + word_list(f"with {packs}" for _, packs in beyond) if beyond[0][1] else ""
            message = f"{what} {never} {number.text} {unit}{packs}: it goes {goes}{' there' if packs else ''}"
            help = f"compare it with a number from {low} to {high}"
            self.problem("value-out-of-range", message, help, number, f"{what} {number.text}")

    def problem(self, rule: str, message: str, help: str, at: Token | Atom, subject: str) -> None:
        in_one_place = self.where and rule != "unknown-name"
        about = f"{dotted(self.where)}: {subject}" if in_one_place else subject
        self.problems.append(SetupProblem(rule, self.where, message, help, about, within=(at.start, at.end)))
