"""What two setups do differently: outputs, modes, alarms, timers and intents, in every state that both can reach."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction
from functools import partial
from itertools import islice

from setuplint.book.asking import plain
from setuplint.budget import OutOfBudget, Spent
from setuplint.comparison.changes import CraftChange, NotCompared, OutputAt, SideValue
from setuplint.comparison.furthest import Spot, furthest_spots, hangs_on, hover_spot, told_stretches
from setuplint.comparison.joined import Joined, Side
from setuplint.comparison.matching import Matching
from setuplint.comparison.outputs import (
    QUESTION,
    Alternative,
    ChannelComparison,
    ChannelPair,
    OutputSource,
    Work,
    described_alike,
    differing_places,
    written_alike,
)
from setuplint.comparison.plain_values import may_be_there
from setuplint.comparison.regions import Question, RegionFinder, RegionSet
from setuplint.comparison.samples import thresholds
from setuplint.dataclass import replace
from setuplint.engine.answers import Answer, Case
from setuplint.engine.decider import Decider
from setuplint.engine.literals import TRUE, Frame
from setuplint.engine.search import Disagreement
from setuplint.plain.evaluate import truth
from setuplint.setup import formulas as f
from setuplint.setup.cone import Cone

MOST_GROUPS = 12  # ways in which one channel differs that are told one by one
MOST_PLACES = 3  # of the sticks that are tried for the case that shows a difference best
HOVER = {"motor": "hover_throttle", "collective": "hover_collective"}  # keys of the craft
INTENTS = ("hold", "stop", "rescue")


class Behaviour:
    """Asks what is different; `changes`, `same` and `open` fill up."""

    def __init__(self, joined: Joined, matching: Matching, spent: Spent | None = None) -> None:
        self.joined, self.matching, self.spent = joined, matching, spent or Spent()
        self.changes: list[CraftChange] = []
        self.same: dict[str, int] = {}
        self.open: list[NotCompared] = [NotCompared("", each) for each in joined.apart]
        self.decider = self.deciding()
        self.setup = self.decider.setup
        self.thresholds = thresholds(joined)
        self.teller = RegionFinder(self.decider, self.thresholds)
        self.work = Work()
        self.unknown_in: dict[f.Formula, tuple[str, ...]] = {}

    def deciding(self) -> Decider:
        """From the power-ups that both admit; a check that nothing passes counts as none (MEANING.md 6)."""
        joined = self.joined
        decider = Decider(joined.setup, self.spent)
        if not decider.start_possible:
            starts = [side.formula(side.setup.start) for side in (joined.old, joined.new) if side.setup.start]
            alone = [Decider(replace(joined.setup, start=start), self.spent) for start in dict.fromkeys(starts)]
            possible = [each for each in alone if each.start_possible]
            if len(possible) == 1:
                decider = possible[0]
            elif possible:
                self.open.append(
                    NotCompared("start", "no power-up is admitted by both: all else is compared without the check")
                )
        for old, curve in joined.old.curves.items():
            if old in joined.new.curves:
                decider.smooth_alike(curve, joined.new.curves[old])
        return decider

    def run(self) -> None:
        self.outputs()
        self.modes()
        self.alarms()
        self.timers()
        self.intents()
        self.start()

    # -- outputs

    def outputs(self) -> None:
        """The motor's first: what the budget leaves out is not the gravest."""
        drives = self.joined.new.setup.channels
        for old, new in sorted(self.matching.channels.items(), key=lambda pair: drives[pair[1]].drives != "motor"):
            self.counted("channel", new, self.channel(old, new))

    def channel(self, old: str, new: str) -> list[CraftChange]:
        channels, drives = self.setup.channels, self.joined.new.setup.channels[new].drives
        pair = ChannelPair(channels[self.joined.old.joined_name(old)], channels[self.joined.new.joined_name(new)])
        if not described_alike(self.joined, pair):
            self.open.append(NotCompared(f"channel {new}", "one of the setups does not describe it"))
        self.open += [NotCompared(f"channel {new}", each) for each in self.unread(pair)]
        if written_alike(self.joined, pair):
            return []
        try:
            differ = ChannelComparison(self.joined, self.setup, pair, self.thresholds, self.work)
        except OutOfBudget as end:
            self.open.append(NotCompared(f"channel {new}", str(end)))
            return []
        if differ.unsure or differ.unsure_in_part:
            self.open.append(NotCompared(f"channel {new}", "sums of several sticks that could not be told apart"))
        found = []
        try:
            for change in self.groups(differ, new):
                found.append(replace(change, drives=drives))
        except OutOfBudget as end:
            self.open.append(NotCompared(f"channel {new}", str(end)))
        return found

    def unread(self, pair: ChannelPair) -> list[str]:
        """What cannot be read of that which decides the channels: a state in which that alone makes a difference is not found."""
        cone = self.decider.cone([f.OutputCompare(c.name, "<", Fraction(0)) for c in pair])
        setup, formulas = self.setup, list[f.Formula | None]()
        for name in cone.names("override"):
            override = setup.overrides[name]
            if override.priority is None or not override.numbers:
                return [f"override {name.partition(' ')[2]} cannot be read"]
            formulas.append(override.when)
        for name in cone.names("condition"):
            formulas += [setup.conditions[name].when, setup.conditions[name].until]
        formulas += [setup.modes[name].when for name in cone.names("mode")]
        formulas += [lent for channel in pair for lent in channel.lendings]
        because = (because for formula in formulas if formula is not None for because in self.unknown(formula))
        return list(islice(because, 1))

    def unknown(self, formula: f.Formula) -> tuple[str, ...]:
        """Why a formula cannot be read; many channels rest on one."""
        if formula not in self.unknown_in:
            atoms = f.atoms(formula)
            self.unknown_in[formula] = tuple(a.because for a in atoms if isinstance(a, f.Unknown))
        return self.unknown_in[formula]

    def groups(self, differ: ChannelComparison, subject: str) -> Iterator[CraftChange]:
        """One change for each pair of deciders between which the output differs in some state."""
        left = self.by_deciders(differ)
        cone = self.decider.cone([f.OutputCompare(c.name, "<", Fraction(0)) for c in differ.pair])

        def check(case: Case) -> bool:
            before, now = differ.pair.outputs(case)
            return before is not None and now is not None and before != now

        everything = [each for some in left.values() for each in some]
        if not everything or self.ask(differ.question(everything), cone, check, f"channel {subject}") is None:
            return
        told = 0
        for (was, now, _), some in left.items():
            question = differ.question(some)
            case = self.ask(question, cone, check, f"channel {subject}")
            if case is None:
                continue
            spots = furthest_spots(differ, some)
            rise, fall = (self.reached(each, differ, cone, check) for each in spots)
            found_cases = [each for each in (rise, fall) if each is not None]
            case = max(found_cases, key=lambda each: abs(each[0].now - each[0].before))[1] if found_cases else case
            told += 1
            if told > MOST_GROUPS:
                self.open.append(NotCompared(f"channel {subject}", "it differs in more ways than are listed here"))
                return
            found = self.teller.region_set(
                question, cone, case, check, partial(differ.goes, some), partial(differ.there, some)
            )
            yield replace(
                self.change("output", subject, *differ.pair.outputs(case), found),
                was_by=was,
                by=now,
                sticks=told_stretches(differ, some) if all(each.stretches for each in some) else None,
                hangs_on=hangs_on(differ, some),
                rise=rise[0] if rise else None,
                fall=fall[0] if fall else None,
                hover=self.at_hover(differ, some, cone),
            )

    def by_deciders(self, differ: ChannelComparison) -> dict[tuple[str, str, object], list[Alternative]]:
        """By who decides before and now, and where on the sticks they differ; modes in which the same lines differ in the same
        way are told together."""
        single: dict[tuple[OutputSource, OutputSource], list[Alternative]] = {}
        for each in differ.alternatives:
            ways = each.old._replace(case=None), each.new._replace(case=None)
            single.setdefault(ways, []).append(each)
        alike: dict[object, list[tuple[OutputSource, OutputSource]]] = {}
        for (old, new), some in single.items():
            lines = frozenset((each.old.case, each.new.case, tuple(map(str, each.at))) for each in some)
            alike.setdefault((old.override, new.override, lines), []).append((old, new))
        found: dict[tuple[str, str, object], list[Alternative]] = {}
        for pairs in alike.values():
            who = self.decides([old for old, _ in pairs], 0), self.decides([new for _, new in pairs], 1)
            for pair in pairs:
                hanging: dict[object, list[Alternative]] = {}
                for each in single[pair]:
                    hanging.setdefault(each.switches, []).append(each)
                for some in hanging.values():
                    found.setdefault((*who, differing_places(some)), []).extend(some)
        return found

    def reached(
        self,
        spots: list[Spot],
        differ: ChannelComparison,
        cone: Cone,
        check: Callable[[Case], bool] | None = None,
    ) -> tuple[OutputAt, Case] | None:
        """The first of the spots that the craft can be brought to, as the case shows it."""
        for spot in spots[:MOST_PLACES]:
            self.work.add(QUESTION)
            answer = self.decider.ask(differ.question([replace(spot.alternative, at=(spot.sticks,))]), cone, check)
            if answer.found and answer.case is not None:
                before, now = differ.pair.outputs(answer.case)
                if before is not None and now is not None:
                    return OutputAt(spot.sticks, before, now), answer.case
        return None

    def at_hover(self, differ: ChannelComparison, some: list[Alternative], cone: Cone) -> OutputAt | None:
        """What a motor or the collective puts out where the stick is in the hover, by the number that was measured."""
        crafts = (side.setup.craft for side in (self.joined.old, self.joined.new))
        key = HOVER.get(differ.pair.new.drives)
        hover = next((value for craft in crafts if key and (value := getattr(craft, key)) is not None), None)
        spot = hover_spot(differ, some, hover)
        found = None if spot is None else self.reached([spot], differ, cone)
        return found[0] if found else None

    def decides(self, ways: list[OutputSource], side: int) -> str:
        """Who decides, in the words of its own setup: `override held`, or `mode normal`, or `` where there are no modes."""
        if ways[0].override is not None:
            return f"override {ways[0].override.partition(' ')[2]}"
        setup = (self.joined.old, self.joined.new)[side].setup
        if not setup.modes:
            return ""
        flown = dict.fromkeys(self.joined.pairs[way.mode or ""][side] for way in ways)
        named = [mode for mode in flown if mode is not None]
        words = [f"mode{'s' * (len(named) > 1)} {', '.join(named)}"] if named else []
        return " and ".join(words + ["no mode"] * (None in flown))

    # -- what is said or done besides

    def modes(self) -> None:
        if not (self.joined.old.setup.modes or self.joined.new.setup.modes):
            return
        same = True
        for mode, (old, new) in self.joined.pairs.items():
            if (self.matching.modes.get(old) if old else None) == new:
                continue
            change = self.holds("mode", "", f.ModeIs(mode), old or "no mode", new or "no mode")
            same = same and change is None
            self.changes += [change] if change else []
        if same:
            self.same["mode"] = len(self.joined.new.setup.modes)

    def alarms(self) -> None:
        old, new = self.joined.old.setup.alarms, self.joined.new.setup.alarms
        for name, other in self.matching.alarms.items():
            self.counted(
                "alarm", other, self.either("alarm", other, f.Sounds(name), f.Sounds(other), "sounds", "silent")
            )
        for name in (n for n in old if n not in self.matching.alarms):
            if may_be_there(self.joined.new.setup, "alarms", name):
                self.open.append(NotCompared(f"alarm {name}", "it may stand in what cannot be read"))
            else:
                self.gone("alarm", name, self.joined.old, f.Sounds(name), ("sounds", None))
        taken = set(self.matching.alarms.values())
        for name in (n for n in new if n not in taken):
            if may_be_there(self.joined.old.setup, "alarms", name):
                self.open.append(NotCompared(f"alarm {name}", "it may stand in what cannot be read"))
            else:
                self.gone("alarm", name, self.joined.new, f.Sounds(name), (None, "sounds"))

    def gone(self, kind: str, name: str, side: Side, formula: f.Formula, words: tuple[SideValue, SideValue]) -> None:
        """A part that only one of the setups has; one that never sounds is no difference."""
        change = self.holds(kind, name, side.formula(formula), *words)
        self.changes += [change] if change else []

    def timers(self) -> None:
        old, new = self.joined.old.setup.timers, self.joined.new.setup.timers
        for name, other in self.matching.timers.items():
            runs = [timer.runs or f.TRUE for timer in (old[name], new[other])]
            self.counted("timer", other, self.either("timer", other, runs[0], runs[1], "runs", "stands"))

    def intents(self) -> None:
        for name in INTENTS:
            old, new = (getattr(side.setup.intent, name) for side in (self.joined.old, self.joined.new))
            if old is not None or new is not None:
                called = f.Predicate(f"{name} called")
                self.counted("intent", name, self.either("intent", name, called, called, "called", "not called"))

    def start(self) -> None:
        """What is admitted at power-up, asked as if there were no check: with one, what it refuses cannot be asked about."""
        old, new = (side.formula(f.Predicate("start allowed")) for side in (self.joined.old, self.joined.new))
        if self.joined.old.setup.start is self.joined.new.setup.start is None:
            return
        if old == new:
            self.counted("start", "", [])
            return
        other = self.decider.of_variant(replace(self.joined.setup, start=None))
        teller = RegionFinder(other, self.thresholds)
        found: list[CraftChange] = []
        for formula, words in (
            (f.both(old, f.Not(new)), ("admitted", "refused")),
            (f.both(f.Not(old), new), ("refused", "admitted")),
        ):
            case = self.noted(other.find(formula, at_power_up=True), "start")
            if case is not None:
                question = partial(truth_literal, formula)
                where = teller.region_set(question, other.cone([formula]), case, given=receiver_off, at_power_up=True)
                found.append(self.change("start", "", *words, where))
        self.counted("start", "", found)

    # -- asking

    def either(self, kind: str, subject: str, old: f.Formula, new: f.Formula, yes: str, no: str) -> list[CraftChange]:
        """States in which something holds by one of the setups alone."""
        was, now = self.joined.old.formula(old), self.joined.new.formula(new)
        if was == now:
            return []
        found = (
            self.holds(kind, subject, f.both(was, f.Not(now)), yes, no),
            self.holds(kind, subject, f.both(f.Not(was), now), no, yes),
        )
        return [change for change in found if change is not None]

    def holds(
        self, kind: str, subject: str, formula: f.Formula, before: SideValue, now: SideValue
    ) -> CraftChange | None:
        """The change, if the formula of the joined setup holds in some state."""
        case = self.noted(self.decider.find(formula), f"{kind} {subject}".strip())
        if case is None:
            return None
        cone = self.decider.cone([formula])
        return self.change(
            kind,
            subject,
            before,
            now,
            self.teller.region_set(
                partial(truth_literal, formula),
                cone,
                case,
                lambda c: truth(self.setup, formula, c.state, c.evaluation) is True,
            ),
        )

    def change(self, kind: str, subject: str, before: SideValue, now: SideValue, found: RegionSet) -> CraftChange:
        case = found.case
        return CraftChange(
            kind,
            subject,
            before,
            now,
            where=found.parts,
            whole=found.whole,
            witness={name: plain(value) for name, value in case.matters.items()},
            steps=tuple({name: plain(value) for name, value in step.items()} for step in case.steps),
            at=case.timing.at if case.timing is not None else (),
            assumed=case.assumed,
        )

    def ask(self, question: Question, cone: Cone, check: object, subject: str) -> Case | None:
        self.work.add(QUESTION)
        return self.noted(self.decider.ask(question, cone, check), subject)  # type: ignore[arg-type]

    def noted(self, answer: Answer, subject: str) -> Case | None:
        """The case of an answer; what is neither found nor proved impossible is noted."""
        try:
            if not (answer.found or answer.impossible):
                self.open.append(NotCompared(subject, "; ".join(answer.because) or answer.verdict))
            return answer.case
        except OutOfBudget as end:
            self.open.append(NotCompared(subject, str(end)))
            return None
        except Disagreement:
            self.open.append(
                NotCompared(subject, "what was found could not be replayed: a fault of setuplint, please report it")
            )
            return None

    def counted(self, kind: str, subject: str, found: list[CraftChange]) -> None:
        self.changes += found
        if not found and not any(each.subject == f"{kind} {subject}".strip() for each in self.open):
            self.same[kind] = self.same.get(kind, 0) + 1


def truth_literal(formula: f.Formula, frame: Frame) -> int:
    return frame.truth(formula)[0]


def receiver_off(frame: Frame) -> int:
    """That the receiver is off, as at power-up."""
    return -frame.controls.receiver if frame.setup.sensors else TRUE
