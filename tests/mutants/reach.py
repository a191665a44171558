"""What can be reached from power-up on a grid: an explicit search over memory (MEANING.md 6)."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from fractions import Fraction
from functools import cached_property, reduce
from typing import TYPE_CHECKING

import numpy as np

from tests.oracle.formula import Const, Formula, Is, Or
from tests.oracle.meaning import World
from tests.oracle.parts import number

from .grid import RECEIVER, Array, Choice, Fixed, Floats, Grid, through
from .settled import Moment, choices

if TYPE_CHECKING:
    from .aloft import Aloft

Verdict = bool | None  # None: something that the question rests on is not described
States = tuple[Moment, Array]  # and which of them can be reached


class Reach:
    """One setup, every memory that it can come to, and all states from there.

    Hands are patient: every `after` and `stays` has run out before the next step. Where memory stands on timed conditions,
    hasty hands could reach more; such a setup is `hasty`.
    """

    def __init__(self, world: World, more: Mapping[str, Iterable[Fraction]] | None = None) -> None:
        self.world = self.written = world
        self.grid = Grid(world, more)
        self.choices = choices(world)
        off = [self.grid.constant(False)] * len(world.memory_off)
        up = Moment(self.grid, off, {RECEIVER: "off"})
        admitted = self.grid.constant(True) if world.requires is None else up.plain(world.requires)
        self.start_possible = bool(admitted.any())
        if not self.start_possible:  # then all is asked as if there were no start check (MEANING.md 6)
            self.world = self.grid.world = up.world = world.without_start()
        self.admitted = admitted if self.start_possible else self.grid.constant(True)
        self.power_up: States = (up, self.admitted)
        self.later: list[States] = []
        self.hovers: dict[object, dict[str, Fraction]] = {}  # where the sticks are, by mode and switches
        self.dead_lines: set[str] | None = None  # channels, once they are asked for
        self.search()
        self.hasty = any(
            c.remembers
            and (c.after or c.stays or self.stands_on_time(c.when) or (c.until and self.stands_on_time(c.until)))
            for c in world.conditions.values()
        )

    def stands_on_time(self, formula: Formula) -> bool:
        names = {getattr(leaf, "name", "") for leaf in through(self.world, formula)}
        return any(c.after or c.stays for name, c in self.world.conditions.items() if name in names)

    def search(self) -> None:
        """Breadth first over the memory and whether the receiver is on: once on, it stays on."""
        on = self.grid.along(RECEIVER, [x == "on" for x in self.grid.axes[RECEIVER]])
        todo = [(bits, False) for bits in sorted(self.memories(*self.power_up))]
        known: dict[tuple[tuple[bool, ...], bool], Moment] = {}
        while todo:
            bits, heard = todo.pop(0)
            if (bits, heard) in known or (bits, False) in known:
                continue
            moment = known[bits, heard] = Moment(self.grid, [self.grid.constant(bit) for bit in bits])
            todo += [(after, True) for after in sorted(self.memories(moment, on))]
            todo += [] if heard else [(after, False) for after in sorted(self.memories(moment, ~on))]
        always = self.grid.constant(True)
        for (bits, heard), moment in known.items():
            if not heard or (bits, False) not in known:
                self.later.append((moment, on if heard else always))

    def memories(self, moment: Moment, where: Array) -> set[tuple[bool, ...]]:
        packed = reduce(lambda a, b: a + b, (x.astype(np.int64) << k for k, x in enumerate(moment.memory)), np.int64(0))
        codes = np.unique(np.where(where, packed, -1))
        return {tuple(bool(c >> k & 1) for k in range(len(moment.memory))) for c in codes.tolist() if c >= 0}

    def moments(self) -> Iterator[States]:
        yield self.power_up
        yield from self.later

    @cached_property
    def flight(self) -> list[States]:
        """Those that differ in memory that flight rests on: modes, intents, and channels that drive the craft."""
        world = self.world
        flown = {c.name for c in world.channels.values() if c.drives != "other"}
        formulas = [o.when for o in world.overrides if o.channel in flown] + [f for f in world.modes.values() if f]
        formulas += [*world.intent.values(), *([world.requires] if world.requires else [])]
        names = {getattr(leaf, "name", "") for formula in formulas for leaf in through(world, formula)}
        at = {
            world.memory_at[n] + k
            for n in world.memory_at
            if n in names
            for k in range(1 + world.conditions[n].toggles)
        }
        found: dict[object, States] = {}
        for moment, where in self.later:
            bits = [bool(x.ravel()[0]) for k, x in enumerate(moment.before) if k in at]
            found.setdefault((tuple(bits), where.shape), (moment, where))
        return [self.power_up, *found.values()]

    @cached_property
    def with_packs(self) -> list[Reach]:
        """The same with each of the other packs."""
        data = self.written.data
        packs = [
            {**data, "battery": {**data.get("battery", {}), **table}, "packs": {}}
            for table in data.get("packs", {}).values()
        ]
        return [Reach(World(each), self.grid.more) for each in packs]

    @cached_property
    def aloft(self) -> Aloft:
        """Where a state is off the ground."""
        from .aloft import Aloft

        return Aloft(self)

    # Questions

    def can(self, formula: Formula | str) -> Verdict:
        """Whether the formula holds in some reachable state."""
        parsed = self.world.parse(formula)
        unsure = False
        for moment, where in self.moments():
            for choice in self.choices:
                yes, no = moment.truth(parsed, choice)
                if (yes & where).any():
                    return True
                unsure = unsure or bool((~yes & ~no & where).any())
        return None if unsure else False

    def anywhere(self, found: Callable[[Moment, Choice], Array], flight: bool = False) -> bool:
        """Whether some reachable state is one of those that the function picks; `flight`: it sees flight alone."""
        moments = self.flight if flight else self.moments()
        return any((found(m, c) & where).any() for m, where in moments for c in self.choices)

    def somewhere_after(self, found: Callable[[Moment, Choice], Array], put: Fixed | None = None) -> bool:
        """The same for what sees flight alone, with controls put somewhere in the step."""
        for moment, where in self.flight:
            if moment is self.power_up[0] and put:
                continue  # the start decides where controls are; the steps after it are free
            for choice in self.choices:
                if (found(moment.at(put or {}), choice) & where).any():
                    return True
        return False

    # What formulas say

    def called(self, moment: Moment, what: str) -> Array:
        """`hold`, `stop` or `rescue` called."""
        return moment.plain(self.world.intent.get(what, Const(False)))

    def yes(self, moment: Moment, choice: Choice, text: str) -> Array:
        return moment.truth(self.world.parse(text), choice)[0]

    def no(self, moment: Moment, choice: Choice, text: str) -> Array:
        return moment.truth(self.world.parse(text), choice)[1]

    def movements(self, moment: Moment) -> Iterator[tuple[Array, Moment]]:
        """Every movement of one switch: from where it is one, and the states after it."""
        for switch, words in self.world.switches.items():
            if switch in moment.fixed:
                continue
            for word in words:
                yield ~moment.is_at(switch, word), moment.moved(switch, word)

    def switches_of(self, what: str) -> list[str]:
        """The switches that the formula of an intent names, itself or through conditions."""
        named = {x.name for x in through(self.world, self.world.intent[what]) if isinstance(x, Is)}
        return [name for name in self.world.switches if name in named]

    def idle_up(self, mode: str) -> bool:
        table = self.world.data["modes"][mode]
        return bool(table.get("idle-up", table.get("aerobatic", False)))

    def aerobatic(self, mode: str) -> bool:
        return bool(self.world.data["modes"][mode].get("aerobatic", False))

    def in_idle_up(self, moment: Moment) -> Array:
        found = self.grid.constant(False)
        for name, k in moment.modes.items():
            if self.idle_up(name):
                found = found | (moment.mode == k)
        return found

    def flown(self, uncalled: bool = False) -> set[str | None]:
        """The modes that are flown in some reachable state, None where there is none; `uncalled`: with no hold, stop, rescue."""
        found: set[str | None] = set()
        for moment, where in self.moments():
            if uncalled:
                for what in ("hold", "stop", "rescue"):
                    where = where & ~self.called(moment, what)
            numbers = set(np.unique(np.where(where, moment.mode, -2)).tolist())
            found |= {name for name, k in [*moment.modes.items(), (None, -1)] if k in numbers}
        return found

    # What the craft is

    def craft(self, key: str) -> Fraction | None:
        if key not in self.world.craft:
            return None
        value = number(self.world.craft[key])
        return self.in_thin_air(value) if key == "hover-throttle" else value

    def in_thin_air(self, hover: Fraction) -> Fraction:
        """The hover throttle at the field, on the 0..100 scale by the root of the densities; 1976 standard atmosphere."""
        measured, field = (
            self.world.craft.get("hover-measured-at-m"),
            self.world.data.get("field", {}).get("elevation-m"),
        )
        if measured is None or field is None or "governed-above" in self.world.craft:
            return hover

        def density(metres: float) -> float:
            height = metres * 6356766 / (6356766 + metres)  # geopotential
            return float((1 - 0.0065 * height / 288.15) ** (9.80665 * 0.0289644 / (8.31432 * 0.0065) - 1))

        share = (float(hover) + 100) / 2 * (density(float(measured)) / density(float(field))) ** 0.5
        return Fraction(round(2 * share - 100, 6)).limit_denominator(10**6)

    @cached_property
    def collective(self) -> bool:
        kind = self.world.craft.get("kind", "helicopter")
        return bool(self.world.craft.get("rotor", "collective" if kind == "helicopter" else "fixed") == "collective")

    def driving(self, *what: str) -> list[str]:
        return [c.name for c in self.world.channels.values() if c.drives in what and self.world.described(c.name)]

    @cached_property
    def motor(self) -> str | None:
        """The one motor channel; setups with two are not judged here."""
        found = self.driving("motor")
        return found[0] if len(found) == 1 else None

    def need(self) -> Fraction | None:
        """What the motor must give in a rescue."""
        hover, governed = self.craft("hover-throttle"), self.craft("governed-above")
        return governed if governed is not None else None if hover is None else hover + 10

    def sounding(self) -> dict[str, Formula]:
        tables = self.world.data.get("alarms", {})
        return {
            n: f
            for n, f in self.world.alarms.items()
            if any(str(tables[n].get(k) or "").strip() for k in ("voice", "tone", "vibrate"))
        }

    def any_sounds(self, moment: Moment, names: Iterable[str]) -> Array:
        return moment.plain(Or(tuple(self.world.alarms[name] for name in names)) if names else Const(False))


def outputs_differ(a: Floats, b: Floats) -> Array:
    return np.asarray(~((a == b) | (np.isnan(a) & np.isnan(b))))
