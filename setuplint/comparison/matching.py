"""Which part of one setup is which part of another: by name, else by what it is used for."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from hashlib import sha256
from typing import TypeVar

from setuplint.budget import OutOfBudget
from setuplint.dataclass import dataclass, field
from setuplint.setup import formulas as f
from setuplint.setup.model import BySwitch, Setup, Switch, Term
from setuplint.setup.states import setup_formulas

T = TypeVar("T")
Use = tuple[object, ...]
ITSELF = "this one"
MOST_PAIRS = 10_000  # of controls, one of each setup, that might be one
MOST_LOOKS = 400_000  # at parts, for what a control is used for
NAME = re.compile(r"[a-z][a-z0-9-]*")


@dataclass(frozen=True, slots=True)
class Matching:
    """Old names to new names, by kind; what is not among them is only in one of the two setups.

    `positions` are those of the switches that are in both, old to new; a position that only one of them has is missing.
    """

    switches: Mapping[str, str] = field(default_factory=dict)
    sticks: Mapping[str, str] = field(default_factory=dict)
    sensors: Mapping[str, str] = field(default_factory=dict)
    conditions: Mapping[str, str] = field(default_factory=dict)
    modes: Mapping[str, str] = field(default_factory=dict)
    curves: Mapping[str, str] = field(default_factory=dict)
    channels: Mapping[str, str] = field(default_factory=dict)
    overrides: Mapping[str, str] = field(default_factory=dict)
    alarms: Mapping[str, str] = field(default_factory=dict)
    timers: Mapping[str, str] = field(default_factory=dict)
    positions: Mapping[str, Mapping[str, str]] = field(default_factory=dict)

    def new_names(self) -> dict[str, set[str]]:
        """The names, by kind, that parts of both have in the new setup."""
        return {kind: set(getattr(self, kind).values()) for kind in KINDS}

    def renamed(self) -> Iterator[tuple[str, str, str]]:
        """Kind, old and new name of every part that goes by another name now."""
        for kind in KINDS:
            for old, new in getattr(self, kind).items():
                if old != new:
                    yield noun(kind), old, new
        for switch, positions in self.positions.items():
            for old, new in positions.items():
                if old != new:
                    yield f"position of {self.switches[switch]}", old, new

    def called(self, texts: Iterable[str]) -> Iterator[set[str]]:
        """What each text that names old parts may be now: as it is, with all new names, or with those of one kind alone."""
        kinds = [getattr(self, kind) for kind in KINDS] + list(self.positions.values())
        changed = [{old: new for old, new in names.items() if old != new} for names in kinds]
        everything = {old: new for names in changed for old, new in names.items()}
        names_of = [names for names in (everything, *changed) if names]
        for text in texts:
            yield {text, *(_renamed(text, names) for names in names_of)}

    def without_new_names(self, texts: Iterable[str]) -> Iterator[str]:
        """Each text with one word for all that a renamed part is called in either setup. A name may be one of several parts,
        and a word of the sentence too."""
        from networkx.utils import UnionFind

        names = UnionFind()
        for _, old, new in self.renamed():
            names.union(old, new)
        for text in texts:
            yield NAME.sub(lambda word: names[word.group()], text)


def _renamed(text: str, names: Mapping[str, str]) -> str:
    return NAME.sub(lambda word: names.get(word.group(), word.group()), text)


KINDS = (
    *("switches", "sticks", "sensors", "conditions", "modes", "curves"),
    *("channels", "overrides", "alarms", "timers"),
)


def noun(kind: str) -> str:
    """One of a kind."""
    return "switch" if kind == "switches" else kind[:-1]


def name_matching(old: Setup, new: Setup) -> Matching:
    """Controls, modes and channels: of one name, they are the same part; a control also where it is the one that is used alike
    under another name. The other parts are matched by `renames.full_matching`, on top of this. OutOfBudget where too many
    controls go by other names."""
    sensors = _by_name(old.sensors, new.sensors, lambda a, b: a.reads == b.reads)
    sensors |= _matched_controls(old, new, old.sensors, new.sensors, sensors, lambda a, b: a.reads == b.reads)
    switches = _by_name(old.switches, new.switches, lambda a, b: True)
    switches |= _matched_controls(old, new, old.switches, new.switches, switches, _same_switch)
    places = {name: matched_positions(old.switches[name], new.switches[other]) for name, other in switches.items()}
    switches = {name: other for name, other in switches.items() if places[name]}
    sticks = _by_name(old.sticks, new.sticks, lambda a, b: a.knob == b.knob)
    sticks |= _matched_controls(old, new, old.sticks, new.sticks, sticks, lambda a, b: a.knob and b.knob)
    channels = _by_name(old.channels, new.channels, lambda a, b: True)
    channels |= _matched_rest(
        old.channels, new.channels, channels, lambda a, b: (a.drives, a.number) == (b.drives, b.number)
    )
    modes = _by_name(old.modes, new.modes, lambda a, b: True)
    modes |= _matched_in_order(old.modes, new.modes, modes) if len(old.modes) == len(new.modes) else {}
    return Matching(
        switches,
        sticks,
        sensors,
        modes=modes,
        channels=channels,
        positions={name: places[name] for name in switches},
    )


def matched_positions(old: Switch, new: Switch) -> dict[str, str]:
    """Words that both have are the same place; if none of a switch's words is there any more, it is the order that says."""
    shared = {word: word for word in old.positions if word in new.positions}
    if len(old.positions) != len(new.positions):
        return shared
    left = (word for word in new.positions if word not in shared)
    return {word: shared.get(word) or next(left) for word in old.positions}


def _same_switch(old: Switch, new: Switch) -> bool:
    return old.kind == new.kind and len(old.positions) == len(new.positions)


def _by_name(old: Mapping[str, T], new: Mapping[str, T], same: Callable[[T, T], bool]) -> dict[str, str]:
    return {name: name for name, part in old.items() if name in new and same(part, new[name])}


def _matched_rest(
    old: Mapping[str, T], new: Mapping[str, T], known: Mapping[str, str], same: Callable[[T, T], bool]
) -> dict[str, str]:
    """Of those that have no match, each with the first that could be it."""
    taken = set(known.values())
    found: dict[str, str] = {}
    for name, part in old.items():
        if name not in known:
            other = next((n for n, p in new.items() if n not in taken and same(part, p)), None)
            if other is not None:
                found[name] = other
                taken.add(other)
    return found


def _matched_in_order(old: Iterable[str], new: Iterable[str], known: Mapping[str, str]) -> dict[str, str]:
    taken = set(known.values())
    return dict(zip((n for n in old if n not in known), (n for n in new if n not in taken), strict=False))


def _matched_controls(
    old: Setup,
    new: Setup,
    before: Mapping[str, T],
    after: Mapping[str, T],
    known: Mapping[str, str],
    same: Callable[[T, T], bool],
) -> dict[str, str]:
    """Controls that go by another name: those with the most uses in common first, each with the first that has as many."""
    left = [name for name in before if name not in known]
    taken = set(known.values())
    others = [name for name in after if name not in taken]
    if len(left) * len(others) > MOST_PAIRS or len(left) * _size(old) + len(others) * _size(new) > MOST_LOOKS:
        raise OutOfBudget(
            f"{len(left)} controls are gone and {len(others)} are new: too many to tell which was renamed"
        )
    pairs = [(a, b) for a in left for b in others if same(before[a], after[b])]
    if not pairs:
        return {}
    was = {a: control_uses(old, a) for a in left}
    now = {b: control_uses(new, b) for b in others}
    found: dict[str, str] = {}
    for a, b in sorted(pairs, key=lambda pair: -_common(was[pair[0]], now[pair[1]])):
        alike = was[a] & now[b] or was[a] == now[b]
        if a not in found and b not in found.values() and alike:
            found[a] = b
    missing = set(_missing_names(new))
    of_old: dict[str, set[str]] = {}
    of_new: dict[str, set[str]] = {}
    for a, b in pairs:
        of_old.setdefault(a, set()).add(b)
        of_new.setdefault(b, set()).add(a)
    for a, b in pairs:  # one that was renamed where it is declared, and nowhere else
        lone = of_old[a] == {b} and of_new[b] - found.keys() == {a}
        if lone and b not in found.values() and a in missing and not now[b]:
            found[a] = b
    return found


def _size(setup: Setup) -> int:
    """How many parts one control's uses are looked for in."""
    return sum(map(len, (setup.conditions, setup.modes, setup.overrides, setup.alarms, setup.channels)))


def _missing_names(setup: Setup) -> Iterator[str]:
    """What formulas name, and nothing declares."""
    for formula in setup_formulas(setup):
        for atom in f.atoms(formula):
            if isinstance(atom, f.Unknown):
                yield from re.findall("names “(.*)”, which nothing declares$", atom.because)


def _common(one: frozenset[Use], two: frozenset[Use]) -> float:
    return len(one & two) / (len(one | two) or 1)


def control_uses(setup: Setup, control: str) -> frozenset[Use]:
    """What a control is used for, told without the names of controls and conditions."""
    return frozenset(use for use in _uses(setup, control) if use[-1] is not None)


def _uses(setup: Setup, control: str) -> Iterator[Use]:
    seen: dict[str, str | None] = {}

    def told(formula: f.Formula | None) -> Use | None:
        """The formula's atoms that rest on the control, without names; None where there is none."""
        if formula is None:
            return None
        found = [atom for a in f.atoms(formula) if (atom := leaf(a)) is not None]
        return tuple(sorted(found, key=repr)) or None

    def leaf(atom: f.Formula) -> Use | str | None:
        match atom:
            case f.SwitchIs(name, position) if name == control:
                return ITSELF, "is", setup.switches[name].positions.index(position)
            case f.Compare(name, op, number) if name == control:
                return ITSELF, op, str(number)
            case f.Lost(name) if name == control:
                return ITSELF, "lost"
            case f.Holds(name):
                return seen[name]
        return None

    for name, condition in setup.conditions.items():  # in dependency order
        inner = (told(condition.when), told(condition.until))
        seen[name] = _digest((*inner, condition.toggles)) if inner != (None, None) else None
    for index, mode in enumerate(setup.modes.values()):
        yield "mode", index, told(mode.when)
    for override in setup.overrides.values():
        about = setup.channels.get(override.channel)
        yield "override", about and (about.drives, about.number), str(override.numbers), told(override.when)
    for alarm in setup.alarms.values():
        yield "alarm", alarm.voice, told(alarm.when)
    for name in ("hold", "stop", "rescue"):
        yield "intent", name, told(getattr(setup.intent, name))
    yield "start", told(setup.start)
    for channel in setup.channels.values():
        yield from (("channel", channel.drives, channel.number, read) for read in _line_uses(channel.terms, control))


def _digest(use: Use) -> str:
    """A condition's use at a fixed length: written out, a chain of conditions that each name two others doubles at each."""
    return sha256(repr(use).encode()).hexdigest()


def _line_uses(terms: Iterable[Term], control: str) -> Iterator[str]:
    for term in terms:
        if term.source == control:
            yield "source"
        for by in (term.rate, term.expo):
            if isinstance(by, BySwitch) and by.switch == control:
                yield "rate"
