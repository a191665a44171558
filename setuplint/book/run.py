"""One setup through the whole rule book."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from functools import partial

from setuplint.book import waivers
from setuplint.book.asking import Asking, Proof
from setuplint.book.choices import Choices
from setuplint.book.functions import Check, check_of
from setuplint.book.loading import loading_findings
from setuplint.book.needs import PACKS, unreadable_keys, why_findings_prove_nothing
from setuplint.book.packs import Packs, PackView, agreed, named_after, notes_of, unsure_notes
from setuplint.book.radios import Habits, Usual
from setuplint.book.rule_file import SIGNALS, Rule
from setuplint.book.unjudged import DANGERS, dangers_not_judged
from setuplint.budget import OutOfBudget, Spent
from setuplint.dataclass import dataclass, field, replace
from setuplint.engine.decider import Decider
from setuplint.engine.search import Disagreement
from setuplint.findings import Finding, NotJudged, Place, Remark, Report
from setuplint.hints import TYPE_CHECKING
from setuplint.named_tuple import NamedTuple
from setuplint.setup.model import Setup
from setuplint.setup.problems import SetupProblem
from setuplint.setup.reads import Reads
from setuplint.setup.states import states_of
from setuplint.setup.texts import Texts

if TYPE_CHECKING:
    from datetime import date

    from setuplint.book.asking import Proving
    from setuplint.book.kept import RuleAnswer, RuleMemory
    from setuplint.engine.kept import Kept

RADIO = "craft.radio"  # a rule that needs this key compares the setups of one radio
RECORD = "record-missing"  # asked only where a club asks for records
NEAR = 4  # what took a quarter of its budget might end in it: it is judged as if nothing were kept
GUESSED_POWER = (
    "craft.power is not given: an engine is taken for what turns the rotor, as rotor-free is given and no pack is, so that it "
    'may idle below rotor-free; write power = "electric" or "engine"'
)
FIRST, LOADING, AFTERWARDS = "first", "loading", "afterwards"  # when a rule is asked


def lint(
    texts: Texts,
    setup: Setup,
    problems: Sequence[SetupProblem],
    *,
    only: Collection[str] | None = None,
    choices: Choices | None = None,
    today: date | None = None,
    habits: Habits | None = None,
    records: Proving | None = None,
    before_each: Callable[[], None] | None = None,
    spent: Spent | None = None,
    kept: Kept | None = None,
) -> Report:
    """Every finding of one setup, the gravest first. `only` names the rules to report; `choices` are a club's; `habits` are
    those of the radios of a run, where several setups are linted together; `records` says what speaks against those beside the
    setup, for a club that asks for one. `before_each` is called before each rule: what it raises ends the lint. `spent` is a
    budget to keep to, if not a file's own. `kept` has what rules said of other setups; the report is the same with it. Where
    nothing of a text can be judged the report says why, whatever `only` says; so it does of what was not decided of the rules
    that `only` names.
    """
    by = choices or Choices()
    found = [x for x in loading_findings(texts, problems, by.rules) if x.rule not in by.left_out]
    report = Report(texts.name, texts, tuple(found), edition=by.edition, pinned=by.pinned, config=by.config,
                    left_out=len(by.left_out))  # fmt: skip
    if texts.is_shared_file or texts.is_unread:
        return in_order(report)
    usual = (habits or {}).get(setup.craft.radio or "", {})
    beside = (records or (lambda *_: Proof())) if by.require_record else None
    fresh = partial(Run, setup, by=by, today=today, usual=usual, records=beside)
    run = fresh(spent=spent or Spent(), findings=list(found))
    if kept is not None and spent is None:
        run.keep_in(kept, texts, problems)
    run.ask_all(asked_rules(by, only), before_each)
    if run.is_near_its_budget and run.memory is not None:
        run.memory.kept.heavy.add(run.memory.known.ground)
        run.let_go()
        run = fresh(spent=Spent(), findings=list(found))
        run.ask_all(asked_rules(by, only), before_each)
    report = in_order(run.reported(report, only))
    if kept is not None or run.took_much:  # a lint of one small file ends sooner without
        run.let_go()
    return report


class AskedRule(NamedTuple):
    """What came of asking a rule, besides its findings."""

    rule: Rule
    unjudged: Iterable[NotJudged] = ()
    undecided: Sequence[tuple[str, str]] = ()  # subject, why
    remarks: Sequence[Remark] = ()


@dataclass(slots=True)
class Run:
    """The rules asked so far of one setup, and what they found."""

    setup: Setup
    spent: Spent
    by: Choices
    today: date | None
    usual: Usual  # on the radio of the setup
    findings: list[Finding]
    records: Proving | None = None
    memory: RuleMemory | None = None
    reads: Reads = field(default_factory=Reads)
    watched: Setup | None = None  # the same, which notes what is read of it; with a memory alone
    _decider: Decider | None = None
    asked: list[AskedRule] = field(default_factory=list)
    spoken: set[tuple[str, str]] = field(default_factory=set)
    heard: int = 0  # findings that are among these
    of_packs: list[Finding] = field(default_factory=list)
    packs: Packs | None = None  # from when they are first asked of

    @property
    def decider(self) -> Decider:
        """The engine, from when it is first needed. OutOfBudget where the file is too large for it."""
        if self._decider is None:
            self.spent.charge(0)  # what was too large once is not begun again
            known = self.memory.known if self.memory is not None else None
            reads = self.reads if known is not None else None  # nobody asks what was read
            self._decider = Decider(self.setup, self.spent, reads=reads, known=known)
        return self._decider

    @property
    def deciders(self) -> list[Decider]:
        """The engines that were needed so far."""
        own = [self._decider] if self._decider is not None else []
        return own if self.packs is None else [*own, *self.packs.deciders.values()]

    def keep_in(self, kept: Kept, texts: Texts, problems: Sequence[SetupProblem]) -> None:
        """Take what is kept, and keep what is not yet."""
        from setuplint.book.kept import RuleMemory
        from setuplint.setup.contents import contents
        from setuplint.setup.watched import watched

        known = kept.known(contents(texts, problems))
        if known is not None:
            self.memory = RuleMemory(kept, known, self.by.rules, self.reads, self.spent)
            self.watched = watched(self.setup, self.reads)

    def keep_no_more(self) -> None:
        """What took much work by itself is asked to the end without kept answers, so that it need not be begun again."""
        if self.memory is not None:
            self.memory.kept.heavy.add(self.memory.known.ground)
            self.memory = None
        for decider in self.deciders:
            decider.forget_kept()

    def let_go(self) -> None:
        """Forget what the file was judged with: it is much, and what comes after needs that memory."""
        for decider in self.deciders:
            decider.let_go()

    @property
    def is_near_its_budget(self) -> bool:
        """Whether it might have ended but for the work that kept answers did not take this time."""
        spent = self.spent
        return spent.saved > 0 and spent.work + spent.saved > spent.most // NEAR

    @property
    def took_much(self) -> bool:
        """Whether it took a good part of its budget by itself."""
        return self.spent.work > self.spent.most // NEAR

    def ask_all(self, rules: Iterable[Rule], before_each: Callable[[], None] | None) -> None:
        """Asks all of them."""
        for rule in rules:
            if before_each is not None:
                before_each()
            if self.is_near_its_budget:
                return  # it is begun again
            if self.memory is not None and self.took_much:
                self.keep_no_more()
            try:
                self.ask(rule)
            except OutOfBudget as end:  # the file is too large for the engine
                self.asked.append(AskedRule(rule, undecided=[("", str(end))]))

    def ask(self, rule: Rule) -> None:
        """Asks one rule, of each pack if it is about them."""
        if not self.spent.over:
            self.spent.work += len(self.setup.declared) // 4  # it goes through the file
        if self._decider is not None:
            self._decider = self._decider.renewed()
        self.spoken |= {(x.rule, x.subject) for x in self.findings[self.heard :]}
        self.heard = len(self.findings)
        about_packs = self.setup.packs and PACKS in rule.needs
        if not about_packs or "battery" in {path[0] for path in self.setup.declared}:
            self.findings += self.recalled_answers(rule)
        if about_packs:
            self.ask_of_packs(rule, Packs.each)
        elif (self.setup.packs or self.setup.is_broken("packs")) and RADIO not in rule.needs:
            self.ask_of_packs(rule, Packs.of_other_counts)

    def ask_of_packs(self, rule: Rule, which: Callable[[Packs, Decider], Iterator[PackView]]) -> None:
        """Asks a rule of packs, until the file's work is spent."""
        self.packs = self.packs or Packs(self.setup)
        about = {x for x in self.spoken if PACKS not in self.by.rules[x[0]].needs}
        known = {(finding.subject, finding.message) for finding in self.findings if finding.rule == rule.name}
        subjects = set() if PACKS in rule.needs else {subject for subject, _ in known}  # one cause is told once
        before = [ask for ask in self.asked if ask.rule is rule]
        because = {note.because for ask in before for note in ask.unjudged}
        undecided = {each for ask in before for each in ask.undecided}
        remarks = {each for ask in before for each in ask.remarks}
        try:
            for pack in which(self.packs, self.decider):
                found = self.answers(rule, pack.setup, pack.decider, about | pack.spoken)
                pack.spoken |= {(rule.name, finding.subject) for finding in found}
                unsure: list[NotJudged] = []
                if PACKS not in rule.needs and pack.setup.battery.cells is None:
                    unsure, found = unsure_notes(rule, self.findings, found, pack), []
                elif PACKS not in rule.needs:
                    self.findings, found = agreed(rule, self.findings, found)
                self.of_packs += [
                    named_after(finding, pack) for finding in found
                    if (finding.subject, finding.message) not in known and finding.subject not in subjects
                ]  # fmt: skip
                asked, usual = self.asked[-1], pack.setup.battery == self.setup.battery
                self.asked[-1] = asked._replace(
                    unjudged=[*notes_of(asked.unjudged, pack, because, usual), *unsure],
                    undecided=[(what, f"with pack {pack.pack}, {why}") for what, why in asked.undecided
                               if (what, why) not in undecided],
                    remarks=[each for each in asked.remarks if each not in remarks],
                )  # fmt: skip
                because |= {note.because for note in asked.unjudged}
        except OutOfBudget as end:
            self.asked.append(AskedRule(rule, undecided=[("", f"not of every pack, as {end}")]))

    def recalled_answers(self, rule: Rule) -> Sequence[Finding]:
        """What a rule finds in the setup itself, from what is kept where that is known."""
        memory = self.memory
        if memory is None or rule.name == RECORD:
            return self.answers(rule, self.setup, self.decider, self.spoken)
        spoken = frozenset([pair for pair in self.spoken if pair[0] in rule.said_by] if rule.said_by else ())

        def judged() -> RuleAnswer:
            from setuplint.book.kept import RuleAnswer

            findings = self.answers(rule, self.watched or self.setup, self.decider, self.spoken)
            ask = self.asked.pop()
            return RuleAnswer(tuple(findings), tuple(ask.unjudged), tuple(ask.undecided), tuple(ask.remarks))

        usual = frozenset(self.usual.items()) if RADIO in rule.needs else None
        said = memory.recalled((rule.name, spoken, usual), judged)
        self.asked.append(AskedRule(rule, said.unjudged, said.undecided, said.remarks))
        return said.findings

    def answers(self, rule: Rule, setup: Setup, decider: Decider, spoken: set[tuple[str, str]]) -> list[Finding]:
        """What a rule finds, unless it needs a key that cannot be read."""
        ask = Asking(setup, decider, rule, self.by.rules, self.today, spoken=spoken, habits=self.usual,
                     records=self.records)  # fmt: skip
        if self.memory is not None and type(setup) is not Setup:  # watched
            ask.memory = self.memory, decider
        self.asked.append(AskedRule(rule, ask.unjudged, ask.undecided, ask.remarks))
        unreadable = list(unreadable_keys(setup, rule))
        for path in unreadable:
            ask.missing(*map(str, path))
        if any(len(path) > 1 for path in unreadable) or ask.is_said_of_the_whole_file:
            return []
        check = check_of(rule)
        found = weighed(check, ask, list(answered(check, ask)))
        because = why_findings_prove_nothing(setup, rule) if found else ""
        if because:
            ask.not_judged(because)
            return []
        return found

    def reported(self, report: Report, only: Collection[str] | None) -> Report:
        """The report with what was found, waived, not judged and not decided of the rules that `only` names."""
        self.findings += self.of_packs
        for ask in [ask for ask in self.asked if ask.undecided]:
            self.findings += not_decided(self.setup, ask, self.by.rules["not-decided"])
        if DANGERS not in self.by.left_out:
            self.findings += dangers_not_judged(self.setup, self.by.rules, self.unjudged)
        findings, waived, remarks = self.waived()
        judged = [ask for ask in self.asked if not (ask.unjudged or ask.undecided)]
        return replace(
            report,
            findings=tuple(x for x in findings if is_reported(x, only)),
            not_judged=tuple(x for x in self.unjudged if only is None or x.rule in only),
            waived=tuple(x for x in waived if is_reported(x, only)),
            remarks=(
                *remarks,
                *power_remarks(self.setup),
                *(r for ask in self.asked for r in ask.remarks if only is None or ask.rule.name in only),
            ),
            states=states_of(self.setup),
            work=self.spent.work + self.spent.saved,
            rules=len({ask.rule.name for ask in judged if only is None or ask.rule.name in only}),
        )

    @property
    def unjudged(self) -> list[NotJudged]:
        return list(dict.fromkeys(note for ask in self.asked for note in ask.unjudged))

    def waived(self) -> tuple[list[Finding], list[Finding], list[Remark]]:
        """The findings that are left when waivers have taken theirs, those that they took, and what there is to say of them."""
        if not self.setup.waivers:
            return self.findings, [], []
        doubtful = {ask.rule.name for ask in self.asked if ask.undecided} | self.by.left_out
        doubtful |= {note.rule for note in self.unjudged}
        if not self.usual:  # alone, a setup differs from no other
            doubtful |= {rule.name for rule in self.by.rules.values() if RADIO in rule.needs}
        from datetime import date

        today = self.today or date.today()
        found = waivers.applied_waivers(
            self.setup.waivers, self.findings, self.by.rules, today, doubtful, self.by.never_waive
        )
        if self.by.waive:
            return found.findings, found.waived, found.remarks
        return found.findings + found.waived, [], found.remarks


def power_remarks(setup: Setup) -> Iterator[Remark]:
    """That an engine is taken for what turns the rotor, where the file does not say so."""
    if setup.is_engine and setup.craft.power is None and setup.is_power_known:
        yield Remark("power-guessed", GUESSED_POWER, Place(("craft", "rotor-free")))


def answered(check: Check, ask: Asking) -> Iterator[Finding]:
    """A rule's findings. Where the engine gives up in its midst, or contradicts itself, that rule was not decided, and says
    so; the others are judged all the same."""
    try:
        yield from check(ask)
    except OutOfBudget as end:
        ask.undecided.append(("", str(end)))
    except Disagreement:
        ask.undecided.append(
            ("", "what the solver found could not be replayed; this is a fault of setuplint, please report it")
        )


def weighed(check: Check, ask: Asking, found: list[Finding]) -> list[Finding]:
    """The findings; advice where the rule would not speak of that subject with the hover throttle as it was measured."""
    if not found or not ask.reckoned:
        return found
    measured = Asking(ask.setup, ask.decider, ask.rule, ask.book, ask.today, spoken=ask.spoken, habits=ask.habits,
                      as_measured=True)  # fmt: skip
    said = {finding.subject for finding in answered(check, measured)}
    return [finding if finding.subject in said else replace(finding, status="advice") for finding in found]


def comparing_rules(only: Collection[str] | None) -> frozenset[str]:
    """Of the rules asked for those that need to know of a setup's neighbours."""
    return frozenset(rule.name for rule in asked_rules(Choices(), only) if RADIO in rule.needs)


def asked_rules(by: Choices, only: Collection[str] | None) -> Iterator[Rule]:
    """The rules to ask, by signal, as that is what a budget leaves out last; one whose findings others rest on comes with the
    first of these, whatever is to be reported. All of them where a rule is to be reported that is about the others."""
    left_out = by.left_out if by.require_record else {*by.left_out, RECORD}
    rules = [rule for rule in by.rules.values() if rule.name not in left_out and rule.is_asked]
    everything = only is None or any(by.rules[name].asked == AFTERWARDS for name in only if name in by.rules)
    rank = {rule.name: SIGNALS.index(rule.signal) for rule in rules}
    for rule in sorted(rules, key=lambda rule: rule.asked != FIRST, reverse=True):
        for other in rank.keys() & set(rule.said_by):
            rank[other] = min(rank[other], rank[rule.name])
    for rule in sorted(rules, key=lambda rule: (rank[rule.name], rule.asked != FIRST)):
        if everything or rule.asked == FIRST or rule.name in (only or ()):
            yield rule


def is_reported(finding: Finding, only: Collection[str] | None) -> bool:
    """What was not decided belongs to the rule that asked: its subject begins with that rule's name."""
    if only is None or finding.rule in only:
        return True
    return finding.rule == "not-decided" and finding.subject.partition(" ")[0] in only


def in_order(report: Report) -> Report:
    """The gravest findings first, then by their place in the file, those in shared parts last, then by rule and subject."""

    def key(finding: Finding) -> tuple[int, int, int, str, str]:
        where = report.where(finding.primary)
        grave = SIGNALS.index(finding.signal)
        return grave, report.texts.order(where.document), where.span.start, finding.rule, finding.subject

    findings, waived = sorted(report.findings, key=key), sorted(report.waived, key=key)
    return replace(report, findings=tuple(findings), waived=tuple(waived))


def not_decided(setup: Setup, ask: AskedRule, rule: Rule) -> Iterator[Finding]:
    """What a rule gave up, once a subject, with the signal of that rule: nothing says that the hazard is not there."""
    reasons: dict[str, str] = {}
    for subject, why in ask.undecided:
        reasons.setdefault(subject, why)
    for subject, why in reasons.items():
        about = f" for {subject}" if subject else ""
        yield Finding(
            rule.name, ask.rule.signal, f"{ask.rule.name} was not decided{about}: {why}",
            f"{ask.rule.name} {subject}".strip(), place_of(setup, subject), why=rule.why, remedy=rule.remedy,
        )  # fmt: skip


def place_of(setup: Setup, subject: str) -> Place:
    """Where the part stands that a question was about, as far as its name tells."""
    for claim in setup.claims:
        if claim.subject == subject:
            return Place(("claims", claim.index))
    for kind in ("conditions", "overrides", "channels", "modes", "alarms", "intent"):
        if (kind, subject) in setup.declared:
            return Place((kind, subject))
    return Place(())
