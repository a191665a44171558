"""One setup through the whole rule book."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import date

from setuplint.checks import CHECKS, book, claims
from setuplint.checks.asking import Asking
from setuplint.checks.book import Rule
from setuplint.decide.decider import Decider
from setuplint.findings import Finding, NotJudged, Place, Report
from setuplint.setup.model import Setup
from setuplint.setup.problems import Problem
from setuplint.source import Document

# Rules that others listen to come first; the rest in the order of the book.
FIRST = ("condition-constant", "hold-missing", "start-impossible", "voltage-alarm-missing", "voltage-alarm-below-floor")
FROM_LOADING = frozenset(
    ("not-toml", "not-a-setup", "unknown-name", "name-clash", "condition-loop", "channel-clash",
     "value-out-of-range", "curve-unordered")
)  # fmt: skip
AFTERWARDS = ("not-decided", "waiver-expired", "waiver-unneeded")


def lint(
    document: Document,
    setup: Setup,
    problems: Sequence[Problem],
    *,
    only: Collection[str] | None = None,
    clubs: Mapping[str, Rule] | None = None,
    today: date | None = None,
) -> Report:
    """Every finding of one setup, in the order of the file. `only` names the rules to ask; `clubs` are rules of a club."""
    rules = {**book.rules(), **(clubs or {})}
    findings = list(loading(document, problems, rules))
    unjudged: list[NotJudged] = []
    decided = 0
    states = 0
    if setup is not None and not any(p.path == ("format",) for p in problems) and document.values:
        decider = Decider(setup)
        spoken = {(x.rule, x.subject) for x in findings}
        order = [n for n in FIRST if n in rules] + [n for n in rules if n not in FIRST]
        for name in order:
            if (
                name in FROM_LOADING
                or name in AFTERWARDS
                or (only is not None and name not in only and name not in FIRST)
            ):
                continue
            ask = Asking(setup, decider, rules[name], rules, today, spoken=spoken)
            check = claims.check if rules[name].check is None else CHECKS.get(rules[name].check or "")
            if check is None:
                continue
            found = list(check(ask))
            findings += found
            spoken |= {(x.rule, x.subject) for x in found}
            unjudged += ask.unjudged
            decided += 1
            findings += [undecided(rules, name, subject, why) for subject, why in dict.fromkeys(ask.undecided)]
        states = decider.states()
    if only is not None:
        findings = [x for x in findings if x.rule in only]
        unjudged = [x for x in unjudged if x.rule in only]
    report = Report(document.name, document)
    findings.sort(key=lambda x: (report.span(x.primary).start, x.rule, x.subject))
    return Report(document.name, document, tuple(findings), tuple(unjudged), (), states, decided)


def loading(document: Document, problems: Sequence[Problem], rules: Mapping[str, Rule]) -> list[Finding]:
    """What went wrong before anything could be decided."""
    found = [
        Finding("not-toml", rules["not-toml"].signal, p.message, f"line {document.position(p.span.start)[0]}",
                Place(span=p.span), why=rules["not-toml"].why, remedy=p.help)
        for p in document.problems
    ]  # fmt: skip
    for p in problems:
        rule = rules[p.rule]
        place = Place(p.path, key=p.key, within=p.within)
        related = tuple(Place(path, caption) for path, caption in p.related)
        found.append(
            Finding(
                p.rule, rule.signal, p.message, p.subject, place, related, why=rule.why, remedy=p.help or rule.remedy
            )
        )
    return found


def undecided(rules: Mapping[str, Rule], name: str, subject: str, why: str) -> Finding:
    rule = rules["not-decided"]
    about = f" for {subject}" if subject else ""
    return Finding(
        "not-decided", rule.signal, f"{name} was not decided{about}: {why}", f"{name} {subject}".strip(), Place(()),
        why=rule.why, remedy=rule.remedy,
    )  # fmt: skip
