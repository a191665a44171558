"""The one witness to show: fewest movements, rest elsewhere, round numbers, file order; the same whatever the solver found."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from fractions import Fraction
from functools import partial

from setuplint.budget import PART, OutOfBudget
from setuplint.dataclass import dataclass, field
from setuplint.fraction import fraction
from setuplint.plain.resting import round_inside
from setuplint.plain.state import LOST, UNHEARD, State
from setuplint.setup.cone import Cone, has_kind, names_of_kind
from setuplint.solver.frame import Frame
from setuplint.solver.freedom import Freedom
from setuplint.solver.pins import Control, Pins
from setuplint.solver.quantities import Cell, Quantity
from setuplint.solver.reach import Found
from setuplint.solver.sat import FALSE, TRUE
from setuplint.solver.sums import inner

Movement = tuple[str, str]  # a switch and the position it is put into
MovementOf = Callable[[Frame], tuple[Movement, Frame]]  # the movement that answers out of a frame, and where it leads


@dataclass(frozen=True, slots=True)
class Witness:
    """States from power-up (one, the last, where memory does not matter) and the controls that matter in the last."""

    states: tuple[State, ...]
    matters: tuple[Control, ...]
    choices: frozenset[str]  # the curves of unknown smoothing and the channels with a tie on whose choice it hangs
    from_power_up: bool
    hasty: bool
    found: Found
    movement: Movement | None = None  # one that answers, where the question is about movements
    ties_after: Mapping[str, str] = field(default_factory=dict)  # who wins the ties that stand after it, by channel


class Chooser(Freedom):
    """Settles, one after the other, everything that an answer leaves open."""

    def choose(self, found: Found, cone: Cone, movement_of: MovementOf | None = None) -> Witness:
        """The witness for an answer; `cone` is that of the question (and of the start check, where memory matters)."""
        self.found = found
        self.channels, self.trim = names_of_kind(cone, "channel"), ("trim", "") in cone
        self.frames = list(found.frames)
        self.assumed = [x for x in found.assumptions if x != TRUE]
        self.last = found
        self.cone = cone
        self.picked: dict[tuple[int, Control], Cell] = {}
        controls = self.known = self.controls(cone)
        moved = [self.moved(n, control) for n in range(len(self.frames)) for control in controls]
        if not self.possible([]):  # asked again: the cuts at rest values are new
            raise OutOfBudget("the witness could not be found again within the budget")
        self.fewest(moved)
        if len(self.frames) > 1:
            self.fewest([-self.at_rest(len(self.frames) - 1, c) for c in controls])
        for kind in ("stick", ""):
            for n in range(len(self.frames)):
                for control in controls:
                    if not kind or control[0] == kind:
                        self.settle(n, control)
        self.settle_choices()
        self.settle_trims()
        movement = self.moved_to = None
        if movement_of is not None:
            movement, self.moved_to = movement_of(self.frames[-1])
            self.settle_ties(self.moved_to)
        self.settle_sums()
        states = tuple(self.state(n) for n in range(len(self.frames)))
        matters, choices = self.mattering(controls)
        ties = self._ties(self.moved_to) if self.moved_to is not None else {}
        return Witness(states, matters, choices, found.from_power_up, found.hasty, self.last, movement, ties)

    # -- controls

    def controls(self, cone: Cone) -> list[Control]:
        """The controls that can matter, in file order."""
        setup = self.setup
        found: list[Control] = [("switch", n) for n in setup.switches if ("switch", n) in cone]
        found += [("stick", n) for n in setup.sticks if ("stick", n) in cone]
        sensors = [n for n in setup.sensors if ("sensor", n) in cone]
        found += [("sensor", n) for n in sensors]
        quantity = self.reach.encoding.quantity_of
        if self.reach.encoding.shared_cell and (("cell", "") in cone or any(quantity(n)[0] == "" for n in sensors)):
            found.append(("cell", ""))
        if sensors:
            found.append(("receiver", ""))
        return found

    # -- settling

    def possible(self, extra: Sequence[int]) -> bool:
        try:
            return self._is_found(extra)
        except OutOfBudget:  # a less readable witness is a witness too
            return False

    def _is_found(self, extra: Sequence[int]) -> bool:
        wanted = [*self.assumed, self.found.literal, *extra]
        found = self.reach.solve(wanted, self.frames, self.channels, trim=self.trim, fetch=True)
        if found is not None and found.model is not None:
            self.last, self.model = found, found.model
        return found is not None

    def fewest(self, literals: Sequence[int]) -> None:
        """Assume that as few of these hold as can be.

        At first none may. Of some that cannot all fail together one may then hold, where that is not enough two, and so on.
        Mostly they are one or two controls that cannot both stay; counting all takes clauses by the square of their number.
        """
        moving = self.model.of(literals)
        further: dict[int, list[int]] = {-x: [] for x in literals if x not in (TRUE, FALSE)}  # and once that cannot be
        try:
            while not self._is_found(list(further)):
                core = [x for x in self.sat.core() if x in further]
                counts = [-x for x in self.sat.counts([-x for x in core])[1:]]
                for then in [*map(further.pop, core), counts]:
                    if then:
                        further[then[0]] = then[1:]
            self.assumed += further
        except OutOfBudget:
            self.assumed += [-x for x, moves in zip(literals, moving, strict=True) if not moves]

    def settle(self, step: int, control: Control) -> None:
        """Fix a control to the most preferred of what it can still be."""
        for literal in self.options(step, control):
            if literal == FALSE:
                continue
            if self.model[literal] or self.possible([literal]):
                self.assumed.append(literal)
                return

    def settle_choices(self) -> None:
        """Ties and unknown smoothings: the first in file order that will do."""
        for kinds in self.reach.encoding.smoothing.values():
            self._settle(kinds.values())
        for frame in self.frames:
            self.settle_ties(frame)
        self.possible([])

    def settle_ties(self, frame: Frame) -> None:
        """Ties of two or more that are active; of others nothing is left open."""
        for picks in self._tied(frame).values():
            active = (frame.truth(self.setup.overrides[name].when)[0] for name in picks)
            if sum(map(self.holds, active)) > 1:
                self._settle(picks.values())

    def settle_trims(self) -> None:
        """What channels read of the sticks, where that is with trim: as near to the stick as will do."""
        step = len(self.frames) - 1
        for name, read in self.reads(step).items():
            if read is self.frames[step].controls.sticks[name] or ("stick", name) not in self.cone:
                continue
            at = self.value(("stick", name), self.quantity(step, ("stick", name)).cell(self.holds))
            cells = sorted(read.cells(), key=lambda c: (max(c.lo - at, at - c.hi, fraction(0)), c.lo))
            self._settle(self.sat.both((c.above, c.under)) for c in cells)

    def settle_sums(self) -> None:
        """The stretches of sums of several sticks, those near zero first, so that every solver gives the same sticks."""
        mine = {id(q) for n in range(len(self.frames)) for q in self.reads(n).values()}
        for found in self.reach.encoding.sums:
            shared = all(id(q) in mine for q in found.sticks.values())
            if shared and found.owners & self.channels and any(self.holds(g) for g in found.guards):
                cells = sorted(found.quantity.cells(), key=lambda c: (abs(c.lo + c.hi), c.lo))
                self._settle(self.sat.both((c.above, c.under)) for c in cells)

    def _settle(self, literals: Iterable[int]) -> None:
        """The first of them that can hold, if any, does."""
        for literal in literals:
            if literal != FALSE and (self.model[literal] or self.possible([literal])):
                self.assumed.append(literal)
                return

    def fix(self, literal: int) -> bool:
        """Whether a literal can hold beside all that is settled; if so it does from now on."""
        can = self.possible([literal])
        if can:
            self.assumed.append(literal)
        return can

    # -- the result

    def holds(self, literal: int) -> bool:
        return self.model[literal]

    def state(self, step: int) -> State:
        frame = self.frames[step]
        controls, holds, reads = frame.controls, self.holds, self.reads(step)
        positions = {
            n: next((p for p, literal in options.items() if holds(literal)), next(iter(options)))
            if ("switch", n) in self.cone
            else next(iter(options))
            for n, options in controls.positions.items()
        }
        sticks: dict[str, Fraction] = {}
        trim: dict[str, Fraction] = {}
        for name, quantity in controls.sticks.items():
            control = ("stick", name)
            if control not in self.cone:
                sticks[name] = self.rest_value(control)
                continue
            point = self.last.points.get((id(quantity), name))
            cell = quantity.cell(holds)
            sticks[name] = self.value(control, cell) if point is None else point
            read = reads[name]
            if read is not quantity:
                shown = self.last.points.get((id(read), name))
                sticks[name], trim[name] = self._trimmed(name, cell, read.cell(holds), shown)
        voltages = {
            name: self.value(control, quantity.cell(holds))
            for name, quantity in controls.voltages.items()
            if (control := ("cell" if not name else "sensor", name)) in self.known
        }
        volts = voltages.get("", self.rest.cell if self.reach.encoding.shared_cell else None)
        readings: dict[str, Fraction | str] = {}
        for name in self.setup.sensors:
            quantity_name, unit = self.reach.encoding.quantity_of(name)
            relevant = ("sensor", name) in self.cone
            if controls.receiver == FALSE or (not holds(controls.receiver) and has_kind(self.cone, "sensor")):
                readings[name] = UNHEARD
            elif relevant and holds(controls.lost[name]):
                readings[name] = LOST
            elif quantity_name in voltages:
                readings[name] = voltages[quantity_name] * unit
            else:
                readings[name] = self.rest.readings[name]
        ties = self._ties(frame)
        smoothing = {
            curve: next(k for k, literal in kinds.items() if holds(literal))
            for curve, kinds in self.reach.encoding.smoothing.items()
            if any(holds(x) for x in kinds.values())
        }
        return State(positions, sticks, readings, volts, ties, smoothing, trim)

    def reads(self, step: int) -> Mapping[str, Quantity]:
        """What channels read of the sticks: with trim in the last state, where the question asks for it."""
        frame = self.frames[step]
        with_trim = self.trim and step == len(self.frames) - 1
        return frame.trimmed.controls.reads if with_trim and frame.trimmed else frame.controls.reads

    def _tied(self, frame: Frame) -> dict[str, dict[str, int]]:
        """The ties on channels that the question rests on."""
        overrides = self.setup.overrides
        return {rank: picks for rank, picks in frame.ties.items() if overrides[rank].channel in self.channels}

    def _ties(self, frame: Frame) -> dict[str, str]:
        """The winners of ties that decide their channels, by channel."""
        found: dict[str, str] = {}
        for picks in self._tied(frame).values():
            winner = next((o for o, literal in picks.items() if self.holds(literal)), None)
            if winner is not None:
                channel = self.setup.overrides[winner].channel
                if self.holds(frame.deciders(channel)[winner][0]):
                    found[channel] = winner
        return found

    def _decisive(self, frame: Frame) -> dict[str, dict[str, int]]:
        """The ties that decide their channels. That no override of a higher priority wins says that none is on: no choice."""
        winners = set(self._ties(frame).values())
        return {rank: picks for rank, picks in self._tied(frame).items() if not winners.isdisjoint(picks)}

    def _active_winners(self, frame: Frame) -> dict[Control, int]:
        """By the choice of each tie, before and after a movement, the literal that its winner is active."""
        frames = {"choice": frame} if self.moved_to is None else {"choice": frame, "then": self.moved_to}
        return {
            (kind, channel): each.truth(self.setup.overrides[winner].when)[0]
            for kind, each in frames.items()
            for channel, winner in self._ties(each).items()
        }

    def _trimmed(self, name: str, cell: Cell, read: Cell, shown: Fraction | None) -> tuple[Fraction, Fraction]:
        """The stick and its trim; `shown` is what they must come to, where that is known already."""
        trim = self.setup.sticks[name].trim or fraction(0)
        lo, hi = inner(cell)
        low, high = inner(read)
        if shown is None:
            shown = round_inside(max(low, lo - trim), min(high, hi + trim))
        least, most = max(lo, shown - trim), min(hi, shown + trim)
        at = self.rest_value(("stick", name))
        stick = at if least <= at <= most else round_inside(least, most)
        return stick, shown - stick

    def mattering(self, controls: Sequence[Control]) -> tuple[tuple[Control, ...], frozenset[str]]:
        """The controls of the last state, and the choices, without which the answer would not follow: a smallest set,
        controls at rest the first to go."""
        step = len(self.frames) - 1
        frame = self.frames[step]
        pins = Pins(frame, self.holds, self.reads(step))
        pinned_by = {control: pins.of_control(control, partial(self.quantity, step, control)) for control in controls}
        held = {control: literals for control, literals in pinned_by.items() if literals}
        off_rest = [control for control in controls if not self.holds(self.at_rest(step, control))]
        held |= {("choice", name): literals for name, literals in pins.of_choices(self._decisive(frame)).items()}
        then = self._decisive(self.moved_to) if self.moved_to is not None else {}
        held |= {("then", name): literals for name, literals in pins.of_ties(then).items()}
        pinned, winners = pins.of_memory(), self._active_winners(frame)
        order: list[Control] = [c for c in held if c[0] in ("choice", "then")]
        order += [c for c in reversed(controls) if c in held and c not in off_rest]
        order += [c for c in reversed(off_rest) if c in held]
        question = -self.found.literal

        def grounds(kept: Iterable[Control]) -> set[int] | None:
            """The literals of these that the answer follows from; None where it does not."""
            held_now = list(kept)
            self.sat.file.work += PART * len(held_now) // 4
            literals = [x for c in held_now for x in held[c]]
            controlled = [x for c in held_now if c[0] not in ("choice", "then") for x in held[c]]
            tied = [winners[c] for c in held_now if c in winners]
            found: set[int] = set()
            try:
                for active in tied:  # the choice is one only while its override is active
                    if self.sat.solve([*pinned, *controlled, -active]):
                        return None
                    found.update(self.sat.core())
                if self.reach.solve([question, *pinned, *literals], [frame], self.channels, trim=self.trim) is not None:
                    return None
                return found.union(self.sat.core())
            except OutOfBudget:
                return None

        kept, found = dict(held), grounds(held)
        for control in order if found is not None else ():
            if found is None or not found.isdisjoint(held[control]):
                less = grounds(c for c in kept if c != control) if not self.sat.is_spent else None
                if less is None:
                    continue
                found = less
            del kept[control]
        return (
            tuple(c for c in controls if c in kept),
            frozenset(name for kind, name in kept if kind == "choice"),
        )
