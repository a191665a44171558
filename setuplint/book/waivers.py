"""Waivers: findings that somebody accepts, with a reason. One covers one rule, on the parts that it names or on all."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence

from setuplint.book.rule_file import Rule
from setuplint.dataclass import replace
from setuplint.findings import Finding, Place, Remark
from setuplint.hints import TYPE_CHECKING
from setuplint.named_tuple import NamedTuple
from setuplint.setup.model import Waiver
from setuplint.setup.problems import Nearest, quoted

if TYPE_CHECKING:
    from datetime import date

EXPIRED, UNNEEDED = "waiver-expired", "waiver-unneeded"
OF_WAIVERS = (EXPIRED, UNNEEDED, "unknown-name")  # rules that speak of waivers too
SOON = 30  # days before its end on which a waiver is first spoken of


class Applied(NamedTuple):
    """What is left, with what there is to say of the waivers themselves; what is waived, each with its waiver; and what of
    the waivers is no finding."""

    findings: list[Finding]
    waived: list[Finding]
    remarks: list[Remark]


def applied_waivers(
    waivers: Sequence[Waiver],
    findings: Sequence[Finding],
    rules: Mapping[str, Rule],
    today: date,
    doubtful: Collection[str] = (),
    never: Collection[str] = (),
) -> Applied:
    """What the waivers make of the findings, and those of what is said of waivers of that in turn. `doubtful` are rules that
    were not judged or not decided: of their waivers it cannot be said that nothing needs them. `never` are the rules and signal
    words that may not be waived."""
    late = [waiver for waiver in waivers if waiver.rule in OF_WAIVERS]
    first = _applied([each for each in waivers if each.rule not in OF_WAIVERS], findings, rules, today, doubtful, never)
    then = _applied(late, first.findings, rules, today, doubtful, never)
    return Applied(then.findings, [*first.waived, *then.waived], [*first.remarks, *then.remarks])


def _applied(
    waivers: Sequence[Waiver],
    findings: Sequence[Finding],
    rules: Mapping[str, Rule],
    today: date,
    doubtful: Collection[str],
    never: Collection[str],
) -> Applied:
    by_rule: dict[str, list[Finding]] = {}
    for x in findings:
        by_rule.setdefault(x.rule, []).append(x)
    waived: dict[int, Finding] = {}
    said: list[Finding] = []
    remarks: list[Remark] = []
    for waiver in waivers:
        mine = [x for x in by_rule.get(waiver.rule, ()) if is_covered(waiver, x)]
        if waiver.rule not in rules:
            said.append(unknown_rule_finding(waiver, rules))
        elif waiver.rule in never or rules[waiver.rule].signal in never:
            remarks.append(refused_remark(waiver, rules[waiver.rule].signal, never))
        elif any(not x.named_by.isdisjoint(never) for x in mine):  # what was not decided has the signal of its rule
            hidden = next(x for x in mine if not x.named_by.isdisjoint(never))
            remarks.append(refused_remark(waiver, hidden.signal, never))
        elif waiver.until is not None and waiver.until < today:
            said.append(expired_finding(waiver, bool(mine), rules[EXPIRED]))
        elif mine:
            waived |= {id(x): replace(x, waiver=waiver) for x in mine if id(x) not in waived}
            if waiver.until is not None and (waiver.until - today).days <= SOON:
                remarks.append(ends_soon_remark(waiver, today, waiver.until))
        elif waiver.rule not in doubtful:
            said.append(unneeded_finding(waiver, by_rule.get(waiver.rule, ()), rules[UNNEEDED]))
    left = [x for x in findings if id(x) not in waived]
    return Applied([*left, *said], [waived[id(x)] for x in findings if id(x) in waived], remarks)


def is_covered(waiver: Waiver, finding: Finding) -> bool:
    """Of findings of the waiver's rule. A subject of several parts is covered where all of them are named."""
    on = waiver.on
    return on is None or finding.subject in on or all(part in on for part in finding.subject.split(", "))


def waiver_words(waiver: Waiver) -> str:
    return waiver.rule if waiver.on is None else f"{waiver.rule} on {', '.join(waiver.on) or 'nothing'}"


def unknown_rule_finding(waiver: Waiver, rules: Mapping[str, Rule]) -> Finding:
    near = Nearest().match(waiver.rule, rules)
    rule = rules["unknown-name"]
    return Finding(
        rule.name, rule.signal, f"there is no rule {quoted(waiver.rule)}: this waiver covers nothing",
        f"rule {waiver.rule}", Place(("waivers", waiver.index, "rule")), why=rule.why,
        remedy=f"did you mean {near}?" if near else "`setuplint explain RULE` shows a rule; findings end with its name",
    )  # fmt: skip


def expired_finding(waiver: Waiver, again: bool, rule: Rule) -> Finding:
    what = "what it hid is reported again" if again else "it hides nothing now, and can go"
    return Finding(
        rule.name, rule.signal, f"the waiver of {waiver_words(waiver)} held until {waiver.until}: {what}", waiver_words(waiver),
        Place(("waivers", waiver.index, "until")), why=rule.why, remedy=rule.remedy,
    )  # fmt: skip


def ends_soon_remark(waiver: Waiver, today: date, until: date) -> Remark:
    days = (until - today).days
    when = "today" if days == 0 else "tomorrow" if days == 1 else f"in {days} days"
    return Remark(
        "ends-soon", f"the waiver of {waiver_words(waiver)} holds until {until}: its last day is {when}",
        Place(("waivers", waiver.index, "until")),
    )  # fmt: skip


def refused_remark(waiver: Waiver, signal: str, never: Collection[str]) -> Remark:
    what = waiver.rule if waiver.rule in never else f"a {signal}"
    return Remark(
        "refused", f"the waiver of {waiver_words(waiver)} hides nothing: setuplint.toml has {what} under never-waive",
        Place(("waivers", waiver.index)),
    )  # fmt: skip


def unneeded_finding(waiver: Waiver, findings: Iterable[Finding], rule: Rule) -> Finding:
    others = sorted({x.subject for x in findings})
    what = f"{waiver.rule} reports only {', '.join(others)}" if others else f"{waiver.rule} finds nothing"
    return Finding(
        rule.name, rule.signal, f"nothing needs the waiver of {waiver_words(waiver)}: {what}", waiver_words(waiver),
        Place(("waivers", waiver.index)), why=rule.why, remedy=rule.remedy,
    )  # fmt: skip
