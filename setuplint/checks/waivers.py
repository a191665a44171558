"""Waivers: findings that somebody accepts, with a reason. One covers one rule, on the parts that it names or on all."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import date

from setuplint.checks.book import Rule
from setuplint.findings import Finding, Place
from setuplint.setup.model import Waiver
from setuplint.setup.problems import Nearest, quoted

EXPIRED, UNNEEDED = "waiver-expired", "waiver-unneeded"


def apply(
    waivers: Sequence[Waiver],
    findings: Sequence[Finding],
    rules: Mapping[str, Rule],
    today: date,
    doubtful: Collection[str] = (),
) -> tuple[list[Finding], list[Finding]]:
    """What is left, with what there is to say of the waivers themselves; and what is waived. `doubtful` are rules that
    were not judged or not decided: of their waivers it cannot be said that nothing needs them."""
    by_rule: dict[str, list[Finding]] = {}
    for x in findings:
        by_rule.setdefault(x.rule, []).append(x)
    waived: dict[int, Finding] = {}
    said: list[Finding] = []
    for waiver in waivers:
        mine = [x for x in by_rule.get(waiver.rule, ()) if covers(waiver, x)]
        if waiver.rule not in rules:
            said.append(unknown(waiver, rules))
        elif waiver.until is not None and waiver.until < today:
            said.append(expired(waiver, bool(mine), rules[EXPIRED]))
        elif mine:
            waived |= {id(x): x for x in mine}
        elif waiver.rule not in doubtful:
            said.append(unneeded(waiver, by_rule.get(waiver.rule, ()), rules[UNNEEDED]))
    left = [x for x in findings if id(x) not in waived]
    return [*left, *said], [x for x in findings if id(x) in waived]


def covers(waiver: Waiver, finding: Finding) -> bool:
    """Of findings of the waiver's rule. A subject of several parts is covered where all of them are named."""
    on = waiver.on
    return on is None or finding.subject in on or all(part in on for part in finding.subject.split(", "))


def about(waiver: Waiver) -> str:
    return waiver.rule if waiver.on is None else f"{waiver.rule} on {', '.join(waiver.on) or 'nothing'}"


def unknown(waiver: Waiver, rules: Mapping[str, Rule]) -> Finding:
    near = Nearest().of(waiver.rule, rules)
    rule = rules["unknown-name"]
    return Finding(
        rule.name, rule.signal, f"there is no rule {quoted(waiver.rule)}: this waiver covers nothing",
        f"rule {waiver.rule}", Place(("waivers", waiver.index, "rule")), why=rule.why,
        remedy=f"did you mean {near}?" if near else "`setuplint explain RULE` shows a rule; findings end with its name",
    )  # fmt: skip


def expired(waiver: Waiver, again: bool, rule: Rule) -> Finding:
    what = "what it hid is reported again" if again else "it hides nothing now, and can go"
    return Finding(
        rule.name, rule.signal, f"the waiver of {about(waiver)} held until {waiver.until}: {what}", about(waiver),
        Place(("waivers", waiver.index, "until")), why=rule.why, remedy=rule.remedy,
    )  # fmt: skip


def unneeded(waiver: Waiver, findings: Iterable[Finding], rule: Rule) -> Finding:
    others = sorted({x.subject for x in findings})
    what = f"{waiver.rule} speaks only of {', '.join(others)}" if others else f"{waiver.rule} finds nothing"
    return Finding(
        rule.name, rule.signal, f"nothing needs the waiver of {about(waiver)}: {what}", about(waiver),
        Place(("waivers", waiver.index)), why=rule.why, remedy=rule.remedy,
    )  # fmt: skip
