"""What a rule is given: the setup, the engine, its own limits, and how to say what it found."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence, Set
from fractions import Fraction
from functools import partial

from setuplint.book import thin_air
from setuplint.book.rule_file import Rule
from setuplint.budget import OutOfBudget
from setuplint.dataclass import dataclass, field, replace
from setuplint.engine.answers import IMPOSSIBLE, NOT_DECIDED, NOT_JUDGED, Answer, Case
from setuplint.engine.decider import Decider
from setuplint.engine.search import Disagreement, Movement
from setuplint.findings import Edit, Finding, NotJudged, Place, Remark, Value
from setuplint.hints import TYPE_CHECKING
from setuplint.named_tuple import NamedTuple
from setuplint.setup import formulas as f
from setuplint.setup.model import PATIENCE, Alarm, Channel, Condition, Curve, Override, Path, Setup
from setuplint.setup.predicates import reason_no_channel

if TYPE_CHECKING:
    from datetime import date
    from typing import Protocol, TypeVar

    from setuplint.book.kept import RuleAnswer, RuleMemory
    from setuplint.book.radios import Usual

    class Named(Protocol):
        """A part of the setup."""

        @property
        def name(self) -> str: ...

    T = TypeVar("T", bound=Named)

    Proving = Callable[[Setup, date], "Proof"]  # what the records beside a setup come to, on a day


CELLS: Mapping[type, str] = {
    Channel: "channels",
    Override: "overrides",
    Curve: "curves",
    Alarm: "alarms",
    Condition: "conditions",
}

MOTOR = "motor"
LATE = "-slow"  # how rules about what is called and comes late are called: hold-slow, rescue-slow
CALLS = {"hold": ("hold", "stop")}  # what such a rule speaks of, where it is more than its name says
WHOLE_FILE = "setup"  # the subject of a finding about all of it


class Proof(NamedTuple):
    """What the records beside a setup come to. `against` says of each that does not count why; `by` names the one that proves
    most, empty where none counts, and `proved` of `boxes` of the bench card are ticked in it."""

    against: tuple[str, ...] = ()
    by: str = ""
    proved: int = 0
    boxes: int = 0


@dataclass(slots=True)
class Asking:
    """One rule's view of one setup. Questions that cannot be judged or decided are noted here, and count as silence."""

    setup: Setup
    decider: Decider
    rule: Rule
    book: Mapping[str, Rule]
    today: date | None = None
    unjudged: dict[NotJudged, None] = field(default_factory=dict)  # in the order in which they were noted
    undecided: list[tuple[str, str]] = field(default_factory=list)  # subject, why
    remarks: list[Remark] = field(default_factory=list)
    spoken: Collection[tuple[str, str]] = ()  # (rule, subject) of findings of rules that come before
    heard: dict[str, Set[str]] = field(default_factory=dict)  # what was asked of these
    habits: Usual = field(default_factory=dict)  # what is usual on its radio, by what is called
    records: Proving | None = None  # by those that stand beside the setup; None: nobody asks for one
    as_measured: bool = False  # take the hover throttle as it was measured, whatever the air at the field
    reckoned: bool = False  # it was asked for, and is another at the field
    memory: tuple[RuleMemory, Decider] | None = None  # what was said of other files, and whose it is: no variant's
    unwatched: Decider | None = None  # the one without a latch of the rule's own question, where `decider` has it

    # -- asking

    def find(
        self, formula: f.Formula | str, subject: str = "", *, at_power_up: bool = False, trim: bool = False
    ) -> Case | None:
        """A case in which the formula holds; where the rule has a patience, also on the way to a settled state. None where it is
        impossible, not judged or not decided (noted)."""
        if at_power_up:
            return self.noted(self.decider.find(formula, at_power_up=True, trim=trim), subject)
        return self.noted(self.answer(formula, trim=trim), subject)

    def possible(self, formula: f.Formula | str, subject: str = "", *, trim: bool = False) -> bool:
        """Whether `find` would find a case; not judged and not decided are noted and count as no."""
        answer = self.answer(formula, trim=trim)
        self.note(answer, subject)
        return answer.found

    def answer(self, formula: f.Formula | str, *, trim: bool = False, patience: Fraction | None = None) -> Answer:
        """The answer for settled states; for moments too, where the rule has a patience, or one is given (in seconds); with a
        limit `aloft` only for moments in the air. Cases that a `said-by` rule about what comes late reports are passed over."""
        patience = self.patience if patience is None else patience
        if patience is None:
            return self.decider.find(formula, trim=trim)
        late = [rule.removesuffix(LATE) for rule in self.rule.said_by if rule.endswith(LATE) and self.said(rule)]
        calls = (f"{call} called" for name in late for call in CALLS.get(name, (name,)))
        passing = tuple(f.Predicate(call) for call in calls if call in f.PREDICATES)  # nothing calls a control
        aloft = "aloft" in self.rule.limits
        ask = partial(self.decider.find_moment, formula, patience, aloft=aloft, trim=trim)
        answer = ask(passing=passing)
        if answer.verdict == NOT_DECIDED and passing and ask().found:
            return Answer(IMPOSSIBLE)  # but for what has been said
        return answer

    @property
    def patience(self) -> Fraction | None:
        """What is over sooner is no case of the rule, in seconds; None: settled states alone are. A formula that a club's rule
        gives has that of a claim."""
        if "patience" in self.rule.limits:
            return self.limit("patience")
        return PATIENCE if self.rule.is_claim else None

    def find_movement(
        self, before: f.Formula | str, after: f.Formula | str, subject: str = "",
        movements: Sequence[Movement] | None = None, *, at_power_up: bool = False,
    ) -> Case | None:  # fmt: skip
        """A case of one movement of one switch, out of a state with `before` into one with `after`."""
        return self.noted(self.decider.find_movement(before, after, movements, at_power_up=at_power_up), subject)

    def noted(self, answer: Answer, subject: str = "") -> Case | None:
        """The case of an answer; what could not be judged or decided is noted."""
        self.note(answer, subject)
        return answer.case

    def note(self, answer: Answer, subject: str) -> None:
        if answer.verdict == NOT_JUDGED:
            for because in answer.because or ("something it rests on is not described",):
                self.not_judged(because, subject)
        elif answer.verdict == NOT_DECIDED:
            because = "; ".join(answer.because)
            if self.decider.over:  # nothing more is answered: said once, not of every subject that is left
                raise OutOfBudget(because)
            self.undecided.append((subject, because))

    def may_be(self, answer: Answer, subject: str = "") -> bool:
        """Whether it was found; what could not be decided is noted, what could not be judged is not."""
        if answer.verdict == NOT_DECIDED:
            self.note(answer, subject)
        return answer.found

    def is_flown(self, mode: str | None, given: f.Formula) -> bool:
        """Whether some state flies a mode, or none of them, while a formula holds; where that is not known it is noted."""
        here = f.ModeIs(mode) if mode else f.both(*(f.Not(f.ModeIs(name)) for name in self.setup.modes))
        answer = self.decider.find(f.both(here, given))
        self.note(answer, "")
        return answer.found  # its case is not worked out

    @property
    def is_said_of_the_whole_file(self) -> bool:
        """Whether a rule of `said-by` has reported what makes this one superfluous everywhere: its subject is the setup."""
        return any((rule, WHOLE_FILE) in self.spoken for rule in self.rule.said_by)

    def said(self, rule: str) -> Set[str]:
        """What another rule, one of `said-by` in this rule's file, has reported: its subjects."""
        assert rule in self.rule.said_by, f"{self.rule.name} does not name {rule} under said-by"
        return self.once(rule, lambda: {subject for name, subject in self.spoken if name == rule})

    def once(self, what: str, made: Callable[[], Set[str]]) -> Set[str]:
        """What is made of what was said: a rule may ask for it of each of thousands of parts."""
        if what not in self.heard:
            self.heard[what] = made()
        return self.heard[what]

    def proved_impossible(self, formula: f.Formula | str) -> bool:
        """Whether no state makes it true, for sure: nothing noted, nothing unknown."""
        return self._least(formula).find(formula).impossible

    def _least(self, formula: f.Formula | str) -> Decider:
        """The decider to ask: that without the latch of the rule's own question where the formula does not ask for this, so that
        no memory is worked out once more beside it."""
        if self.unwatched is None or isinstance(formula, str):
            return self.decider
        conditions = self.decider.setup.conditions
        asks = any(isinstance(atom, f.Holds) and conditions[atom.condition].watches for atom in f.atoms(formula))
        return self.decider if asks else self.unwatched

    def never(self, formula: f.Formula | str) -> bool:
        """Whether it is proved that no moment makes it true, however short."""
        return self.decider.never_holds(formula)

    def not_judged(self, because: str, subject: str = "", *, is_absent: bool = False) -> None:
        self.unjudged.setdefault(NotJudged(self.rule.name, because, subject, self.rule.signal, is_absent))

    def missing(self, *path: str, subject: str = "") -> None:
        """Not judged, because a key or part is not given, or cannot be read."""
        self.not_judged(self.setup.lacking(*path), subject)

    def limit(self, name: str, rule: str | None = None) -> Fraction:
        """One of the rule's limits (or another rule's), a club's stricter one included."""
        return self.book[rule or self.rule.name].limits[name].value

    def as_enforced(self) -> Asking:
        """The same view of the setup, its check at power-up enforced where it only warns."""
        if self.setup.start_warns is None:
            return self
        setup = replace(self.setup, start=self.setup.start_warns, start_warns=None)
        return replace(self, setup=setup, unwatched=None, decider=self.decider.of_variant(setup))

    def each(self, function: Callable[[Asking, T], Iterator[Finding]], parts: Iterable[T]) -> Iterator[Finding]:
        """What a function finds of each of some parts of the setup. It must rest on nothing but its arguments: it is not asked
        again of a part where all that this rests on was the same before."""
        spoken = frozenset(pair for pair in self.spoken if pair[0] in self.rule.said_by)
        for part in parts:
            if self.memory is None or self.memory[1] is not self.decider:
                yield from function(self, part)
                continue
            own = replace(self, unjudged={}, undecided=[], remarks=[], memory=None)
            ends: list[Exception] = []
            what = (self.rule.name, spoken, function.__qualname__, part.name)
            said = self.memory[0].recalled(what, partial(_part_answer, own, function, part, ends))
            self.unjudged |= dict.fromkeys(said.unjudged)
            self.undecided += said.undecided
            self.remarks += said.remarks
            self.reckoned |= said.reckoned
            yield from said.findings
            for end in ends:
                raise end

    # -- what rules often need

    @property
    def shift(self) -> thin_air.Shift | None:
        """How the air at the field changes the hover throttle; None where it does not, as far as is known."""
        return None if self.as_measured else thin_air.shift(self.setup)

    @property
    def hover_throttle(self) -> Fraction | None:
        """The motor's output in a hover, in percent, at the field where both elevations are given. None where it is not known."""
        if any(self.broken(*key) for key in thin_air.KEYS):
            return None
        shift = self.shift
        self.reckoned |= shift is not None
        return self.setup.craft.hover_throttle if shift is None else shift.value

    def no_hover_throttle(self) -> None:
        """Not judged, because it is not known."""
        self.missing(*next((key for key in thin_air.KEYS if self.broken(*key)), thin_air.KEYS[0]))

    @property
    def motors(self) -> list[Channel]:
        return self.setup.driving(MOTOR)

    @property
    def judged_motors(self) -> list[Channel]:
        """The motors, for a rule that asks of each; that there is none, or may be one more, is noted."""
        if not self.motors:
            self.not_judged(reason_no_channel(self.setup, MOTOR))
        return self.driving(MOTOR) if self.motors else []

    def driving(self, *what: str) -> list[Channel]:
        """The channels that drive one of these; what keeps others from being known is noted."""
        self.unread("channels")
        for channel in self.unread_drives:
            self.missing("channels", channel.name, "drives")
        return self.setup.driving(*what)

    @property
    def channels(self) -> list[Channel]:
        """All of them; that there may be others is noted."""
        self.unread("channels")
        return [*self.setup.channels.values()]

    @property
    def unread_drives(self) -> list[Channel]:
        """The channels that say what they drive in a word that is none: each may be any of them."""
        return [c for c in self.setup.channels.values() if ("channels", c.name, "drives") in self.setup.broken]

    def broken(self, *path: str | int) -> bool:
        return self.setup.is_broken(*path)

    def unread(self, *path: str, subject: str = "") -> bool:
        """Whether a part cannot be read, or what holds it; then that is noted."""
        if self.broken(*path):
            self.missing(*path, subject=subject)
        return self.broken(*path)

    def unread_line(self, channel: Channel, subject: str = "") -> bool:
        """Whether a line of a channel cannot be read, or what it stands on; then that is noted."""
        some = any(line.terms is None for line in channel.every_line)
        found = some and (self.broken("channels", channel.name) or self.setup.unread_lines(channel.name))
        if found:
            self.not_judged(self.setup.undescribed(channel.name), subject)
        return found

    def may_give(self, key: str) -> set[str]:
        """The channels that give a key of a line, themselves, in a term of `mix` or for a mode; or may, where what would have it
        cannot be read. All of them, where all could be read."""
        setup = self.setup
        if not setup.broken:
            return {*setup.channels}
        given = {path[1] for path in setup.declared if path[0] == "channels" and not {key, "mix"}.isdisjoint(path[2:])}
        lost = {
            path[1]
            for path in setup.broken
            if path[:1] == ("channels",) and not {key, "mix", "in"}.isdisjoint(path[2:])
        }
        whole = {name for name in setup.channels if ("channels", name, "from") not in setup.declared}
        return {str(name) for name in given | lost | whole}

    # -- saying

    def as_decided(self) -> Setup:
        """The setup as the engine takes it: without its check at power-up where that admits no state, with a latch of its own
        where it watches one."""
        if type(self.setup) is Setup:  # nobody notes what is read
            return self.decider.setup
        from setuplint.setup.watched import watched

        return watched(self.decider.setup, self.decider.reads)

    def finding(
        self,
        subject: str,
        message: str,
        primary: Place | Path,
        case: Case | None = None,
        *,
        related: Iterable[Place] = (),
        channels: Iterable[str] = (),
        remedy: str = "",
        then: str = "",
        status: str = "proved",
        edit: Edit | None = None,
        hazard: f.Formula | None = None,
        estimate: str = "",
        witness: Mapping[str, Value] | None = None,
        outputs: Mapping[str, Fraction] | None = None,
    ) -> Finding:
        """A finding of this rule. `channels` are those whose outputs in the case belong to it: the motors, where none is
        named; `then` says what follows a movement or a time, `estimate` what else can be reckoned, roughly."""
        self.decider.reads.everything = True  # what it shows is a state of the whole craft
        shown = dict(outputs or {})
        if case is not None and outputs is None:
            evaluation = case.evaluation if case.after_evaluation is None else case.after_evaluation
            names = list(channels) or [c.name for c in self.motors]
            shown |= {name: value for name in names if (value := evaluation.outputs.get(name)) is not None}
        matters = {} if case is None else {name: plain(value) for name, value in case.matters.items()}
        return Finding(
            rule=self.rule.name,
            signal=self.rule.signal,
            message=message + (lasting(case, self.patience) if case is not None and case.movement is None else ""),
            subject=subject,
            primary=primary if isinstance(primary, Place) else Place(primary),
            related=tuple(related),
            witness=matters if witness is None else witness,
            steps=() if case is None else tuple({n: plain(v) for n, v in s.items()} for s in case.steps),
            outputs=shown,
            assumed=() if case is None else case.assumed,
            then=then or (moved(case) if case is not None else ""),
            status=status,
            why=self.rule.why,
            remedy=remedy or self.rule.remedy,
            edit=edit,
            hazard=hazard,
            estimate=estimate,
            motors=frozenset(c.name for c in self.motors),
            timing=None if case is None else case.timing,
        )


def _part_answer(
    ask: Asking, function: Callable[[Asking, T], Iterator[Finding]], part: T, ends: list[Exception]
) -> RuleAnswer:
    """What a function says of one part; what ended it is put into `ends`."""
    from setuplint.book.kept import RuleAnswer

    reads = ask.decider.reads
    reads.part(CELLS[type(part)], part.name)
    found: list[Finding] = []
    try:
        found.extend(function(ask, part))
    except (OutOfBudget, Disagreement) as end:
        ends.append(end)
        reads.is_kept = False
    return RuleAnswer(tuple(found), tuple(ask.unjudged), tuple(ask.undecided), tuple(ask.remarks), ask.reckoned)


def plain(value: str | Fraction) -> Value:
    """A control's value as findings give it: a whole number as int, else a float."""
    if isinstance(value, Fraction):
        return int(value) if value.denominator == 1 else float(value)
    return value


def moved(case: Case) -> str:
    """A movement in words, where the case has one."""
    return f"then {case.movement[0]} to {case.movement[1]}" if case.movement else ""


def lasting(case: Case, patience: Fraction | None) -> str:
    """For how long, and what is behind then, where the case is one of time: for the end of a message. Of a rule about settled
    states, which has no patience, what is so stays so: a run may only lead there."""
    timing = case.timing
    if timing is None or (patience is None and timing.until is None):
        return ""
    spell = "from then on" if timing.until is None else f"for {seconds(timing.until - timing.since)}"
    behind = [f"{_listed(timing.stays)} {'stays' if len(timing.stays) == 1 else 'stay'} on"] if timing.stays else []
    behind += [f"{_listed(timing.waits)} {'waits' if len(timing.waits) == 1 else 'wait'}"] if timing.waits else []
    return f", {spell}{', while ' + ' and '.join(behind) if behind else ''}"


def _listed(names: Sequence[str]) -> str:
    return f"{'condition' if len(names) == 1 else 'conditions'} {' and '.join(names)}"


def seconds(time: Fraction, limit: Fraction = Fraction(0)) -> str:
    """0.5 s, 600 s: for messages; told from a limit, where one is given."""
    return f"{plain(told_apart(time, limit, 3)):g} s"


def told_apart(value: Fraction, limit: Fraction, places: int) -> Fraction:
    """Rounded to so many decimals, or to as many more as it takes to tell it from the limit."""
    return round(value, next((n for n in range(places, 6) if round(value, n) != limit), 6))


def percent(value: Fraction) -> str:
    """+55 %, -100 %, 0 %: for messages."""
    number = plain(round(value, 3))
    return f"{number:+g} %" if number else "0 %"


def both_scales(value: Fraction) -> str:
    """A motor's output on both scales: +55 % (77.5 of 100)."""
    return f"{percent(value)} ({plain(round((value + 100) / 2, 3)):g} of 100)"
