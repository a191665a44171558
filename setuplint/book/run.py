"""One setup through the whole rule book."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date

from setuplint.book import claims, waivers
from setuplint.book.asking import Asking
from setuplint.book.choices import Choices
from setuplint.book.needs import proves_nothing, unread
from setuplint.book.rulebook import Rule
from setuplint.budget import OutOfBudget
from setuplint.checks import CHECKS, Check
from setuplint.checks.elsewhere import Habits
from setuplint.engine.decider import Decider
from setuplint.engine.search import Disagreement
from setuplint.findings import Finding, Place, Remark, Report
from setuplint.setup.model import Setup
from setuplint.setup.problems import SetupProblem
from setuplint.setup.texts import Texts

# Rules that others listen to come first; the rest in the order of the book.
FIRST = ("condition-constant", "hold-missing", "start-impossible", "voltage-alarm-missing", "voltage-alarm-below-floor")
FROM_LOADING = frozenset(
    ("not-toml", "not-a-setup", "unknown-name", "name-clash", "condition-loop", "channel-clash",
     "value-out-of-range", "curve-unordered")
)  # fmt: skip
ELSEWHERE = "rescue-elsewhere"  # the rule that compares the setups of one radio
AFTERWARDS = frozenset(("not-decided", "waiver-expired", "waiver-unneeded"))  # they speak of all the others


def lint(
    texts: Texts,
    setup: Setup,
    problems: Sequence[SetupProblem],
    *,
    only: Collection[str] | None = None,
    choices: Choices | None = None,
    today: date | None = None,
    habits: Habits | None = None,
    before_each: Callable[[], None] | None = None,
) -> Report:
    """Every finding of one setup, in the order of the file. `only` names the rules to report; `choices` are a
    club's; `habits` are those of the radios of a run, where several setups are linted together. `before_each` is called
    before each rule: what it raises ends the lint.

    Where nothing of a text can be judged it is reported why, whatever `only` says; so is what was not decided of the
    rules that it names.
    """
    by = choices or Choices()
    rules = by.rules
    findings = [x for x in loading(texts, problems, rules) if x.rule not in by.left_out]
    report = Report(texts.name, texts, tuple(findings), edition=by.edition, pinned=by.pinned, config=by.config)
    if texts.is_shared_file or not texts.values or any(p.path == ("format",) and not p.file for p in problems):
        return in_order(report)
    decider = Decider(setup)
    usual = (habits or {}).get(setup.craft.radio or "", {})
    asked: list[Asking] = []
    spoken = {(x.rule, x.subject) for x in findings}
    for name in wanted([name for name in rules if name not in by.left_out], only):
        check = claims.check if rules[name].check is None else CHECKS.get(rules[name].check or "")
        if check is not None:
            if before_each is not None:
                before_each()
            decider = decider.renewed()
            asked.append(Asking(setup, decider, rules[name], rules, today, spoken=spoken, habits=usual))
            gone = list(unread(setup, name))
            for path in gone:
                asked[-1].missing(*map(str, path))
            found = [] if gone else weighed(check, asked[-1], list(answered(check, asked[-1])))
            because = proves_nothing(setup, name) if found else ""
            if because:
                asked[-1].not_judged(because)
                found = []
            findings += found
            spoken |= {(x.rule, x.subject) for x in found}
    unjudged = [note for ask in asked for note in ask.unjudged]
    undecided = {ask.rule.name for ask in asked if ask.undecided}
    for ask in asked:
        findings += not_decided(ask, rules["not-decided"])
    waived: list[Finding] = []
    remarks: list[Remark] = []
    if setup.waivers:
        doubtful = undecided.union(note.rule for note in unjudged) | by.left_out
        doubtful |= set() if usual else {ELSEWHERE}  # alone, a setup is nowhere else
        now = today or date.today()
        findings, waived, remarks = waivers.apply(setup.waivers, findings, rules, now, doubtful, by.never_waive)
        if not by.waive:
            findings, waived = findings + waived, []
    judged = [ask for ask in asked if not (ask.unjudged or ask.undecided)]
    report = replace(
        report,
        findings=tuple(x for x in findings if reported(x, only)),
        not_judged=tuple(x for x in unjudged if only is None or x.rule in only),
        waived=tuple(x for x in waived if reported(x, only)),
        remarks=tuple(remarks),
        states=decider.states(),
        rules=sum(only is None or ask.rule.name in only for ask in judged),
    )
    return in_order(report)


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


def compares(only: Collection[str] | None) -> bool:
    """Whether the rules asked for need to know of a setup's neighbours."""
    return only is None or ELSEWHERE in only or not AFTERWARDS.isdisjoint(only)


def wanted(rules: Collection[str], only: Collection[str] | None) -> Iterator[str]:
    """The rules to ask, in their order."""
    everything = only is None or not AFTERWARDS.isdisjoint(only)
    for name in (*(n for n in FIRST if n in rules), *(n for n in rules if n not in FIRST)):
        if name in FROM_LOADING or name in AFTERWARDS:
            continue
        if everything or name in FIRST or name in (only or ()):
            yield name


def reported(finding: Finding, only: Collection[str] | None) -> bool:
    """What was not decided belongs to the rule that asked: its subject begins with that rule's name."""
    if only is None or finding.rule in only:
        return True
    return finding.rule == "not-decided" and finding.subject.partition(" ")[0] in only


def in_order(report: Report) -> Report:
    """Findings by their place in the file, then by rule and subject; those in shared parts come last."""

    def key(finding: Finding) -> tuple[int, int, str, str]:
        where = report.where(finding.primary)
        return report.texts.order(where.document), where.span.start, finding.rule, finding.subject

    findings, waived = sorted(report.findings, key=key), sorted(report.waived, key=key)
    return replace(report, findings=tuple(findings), waived=tuple(waived))


def loading(texts: Texts, problems: Sequence[SetupProblem], rules: Mapping[str, Rule]) -> Iterator[Finding]:
    """What went wrong before anything could be decided."""
    rule = rules["not-toml"]
    for document in texts:
        of = "" if document is texts.own else f" of {document.name}"
        for fault in document.problems:
            line = document.position(fault.span.start)[0]
            yield Finding(
                rule.name, rule.signal, fault.message, f"line {line}{of}", Place(span=fault.span, file=document.name),
                why=rule.why, remedy=fault.help,
            )  # fmt: skip
    for p in problems:
        rule = rules[p.rule]
        yield Finding(
            rule.name, rule.signal, p.message, p.subject, Place(p.path, key=p.key, within=p.within, file=p.file),
            tuple(Place(other.path, other.caption, file=other.file) for other in p.related),
            why=rule.why, remedy=p.help or rule.remedy,
        )  # fmt: skip


def not_decided(ask: Asking, rule: Rule) -> Iterator[Finding]:
    """What a rule gave up, once a subject."""
    reasons: dict[str, str] = {}
    for subject, why in ask.undecided:
        reasons.setdefault(subject, why)
    for subject, why in reasons.items():
        about = f" for {subject}" if subject else ""
        yield Finding(
            rule.name, rule.signal, f"{ask.rule.name} was not decided{about}: {why}",
            f"{ask.rule.name} {subject}".strip(), place_of(ask.setup, subject), why=rule.why, remedy=rule.remedy,
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
