"""Which timed conditions are slow: what they delay can stay behind for longer than a patience (MEANING.md 8, *Moments*)."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from fractions import Fraction
from functools import cached_property
from math import ceil

from setuplint.dataclass import dataclass
from setuplint.named_tuple import NamedTuple
from setuplint.plain.timelines import ALOFT, TICK
from setuplint.setup import formulas as f
from setuplint.setup.cone import Cone, Cones, names_of_kind
from setuplint.setup.model import ZERO, Condition, Setup


@dataclass(frozen=True, slots=True)
class Slowness:
    """The timed conditions of a cone, each list in dependency order. `way` has those that a slow one rests on, itself
    included; `above` the quick ones that rest on a slow one."""

    timed: tuple[str, ...] = ()
    slow: tuple[str, ...] = ()
    way: tuple[str, ...] = ()
    above: tuple[str, ...] = ()


def own_time(condition: Condition) -> Fraction:
    """The longer of `after` and `stays`."""
    return in_ticks(max(condition.after, condition.stays))


def in_ticks(seconds: Fraction) -> Fraction:
    """A time in seconds, as the instants of the simulator let it be seen."""
    return ceil(seconds / TICK) * TICK


class Paces:
    """How long the conditions of one setup take to follow what moves them."""

    def __init__(self, setup: Setup, cones: Cones) -> None:
        self.setup, self.cones = setup, cones
        self.timed = [c.name for c in setup.conditions.values() if c.after or c.stays]
        self._slow: dict[tuple[Fraction, bool], frozenset[str]] = {}
        self._found: dict[tuple[int, Fraction, bool], Slowness] = {}

    @cached_property
    def waits(self) -> list[Wait]:
        return _waits(self.setup)

    def slowness(self, cone: Cone, patience: Fraction, *, aloft: bool = False) -> Slowness:
        """The timed conditions that a cone holds, and which of them are slow for a patience in seconds. `aloft`: the
        switches of the hold have not moved for a while, so what rests on them alone has settled."""
        inside = names_of_kind(cone, "condition") if self.timed else ()
        timed = tuple(name for name in self.timed if name in inside)
        if not timed:
            return Slowness()
        key = (cone.bits, patience, aloft)
        if key not in self._found:
            of_setup = self.slow(patience, aloft)
            slow = tuple(name for name in timed if name in of_setup)
            self._found[key] = Slowness(timed, slow, self._under(timed, slow), self._over(timed, slow))
        return self._found[key]

    def slow(self, patience: Fraction, aloft: bool) -> frozenset[str]:
        """Every slow condition of the setup."""
        key = (patience, aloft)
        if key not in self._slow:
            still = frozenset(self.calm()) if aloft else frozenset()
            self._slow[key] = frozenset(_times(self.waits, patience, still)[1])
        return self._slow[key]

    def hold_switches(self) -> frozenset[str]:
        """The switches that the hold's formula rests on."""
        return frozenset(names_of_kind(self.cones.of([f.Predicate("hold called")]), "switch"))

    def calm(self) -> Iterator[str]:
        """The timed conditions that rest on the hold's switches alone and settle before the craft is taken to be aloft."""
        cones, (times, _) = self.cones, _times(self.waits)
        fine = cones.kinds.get("condition", 0) | cones.kinds.get("mode", 0)
        for switch in self.hold_switches():
            fine |= cones.bit(("switch", switch))
        for name in self.timed:
            if times[name] <= ALOFT and not cones.part(("condition", name)) & ~fine:
                yield name

    def _under(self, timed: Collection[str], slow: Collection[str]) -> tuple[str, ...]:
        under = 0
        for name in slow:
            under |= self.cones.part(("condition", name))
        return tuple(n for n in timed if under & self.cones.bit(("condition", n)))

    def _over(self, timed: Collection[str], slow: Collection[str]) -> tuple[str, ...]:
        parts, late, bits = self.cones.part, set(slow), 0
        for name in slow:
            bits |= self.cones.bit(("condition", name))
        return tuple(n for n in timed if n not in late and parts(("condition", n)) & bits)


class Wait(NamedTuple):
    """What a condition waits for."""

    name: str
    own: Fraction  # its own time
    named: tuple[str, ...]  # the conditions that its formulas name
    modes: bool  # whether they name a mode


def _waits(setup: Setup) -> list[Wait]:
    """Those of all conditions, and at the end what the modes' formulas name."""
    waits = [_wait(c.name, own_time(c), c.when, c.until) for c in setup.conditions.values()]
    return [*waits, _wait("", ZERO, *(mode.when for mode in setup.modes.values()))]


def _wait(name: str, own: Fraction, *formulas: f.Formula | None) -> Wait:
    atoms = [atom for formula in formulas if formula is not None for atom in f.atoms(formula)]
    named = dict.fromkeys(atom.condition for atom in atoms if isinstance(atom, f.Holds))
    return Wait(name, own, tuple(named), any(isinstance(atom, f.ModeIs) for atom in atoms))


def _times(
    waits: Sequence[Wait], patience: Fraction | None = None, calm: Collection[str] = ()
) -> tuple[dict[str, Fraction], set[str]]:
    """The longest sum of waits on a way to each condition; and those that take longer than the patience. Such a slow one and a
    calm one count nothing for those that rest on them. The conditions that modes rest on come before those that rest on modes."""
    *conditions, modes = waits
    times: dict[str, Fraction] = {}
    slow: set[str] = set()

    def longest(wait: Wait) -> Fraction:
        return max((times.get(name, ZERO) for name in wait.named), default=ZERO)

    for wait in conditions:
        name, own = wait.name, wait.own
        time = own + max(longest(wait), longest(modes) if wait.modes else ZERO)
        if own and name not in calm and patience is not None and time > patience:
            slow.add(name)
        times[name] = ZERO if own and (name in calm or name in slow) else time
    return times, slow
