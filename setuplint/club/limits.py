"""A club's own limits: they tighten ours, and never loosen one."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction

from setuplint.book.rule_file import Limit, Rule
from setuplint.dataclass import replace

FULL = "cell-count-mismatch"

Limits = Iterable[tuple[str, str, Fraction]]  # rule, limit, the club's number


def objection(rules: Mapping[str, Rule], of: str, name: str, value: Fraction) -> str:
    """Why a club may not have this number for a limit of a rule; empty where it may."""
    rule = rules[of]
    ours = rule.limits[name]
    key = f"{rule.name}.{name}"
    if not ours.stricter:
        return f"{key} cannot be changed: it is not a limit that another number makes stricter"
    loosens = looser(rule, name, value)
    shown = f"{float(ours.value):g} {ours.unit}"
    if loosens and rule.signal == "danger":
        return f"this loosens {key}, which is {shown}: that rule keeps people from being hurt, and a club can only tighten it"
    if loosens:
        return f"this loosens {key}, which is {shown}: a club can only tighten; a setup may waive a finding, with its reason"
    if value < 0 <= ours.value:
        return f"{key} is not negative"
    charged = full_cell_limit(rules, name)
    if charged is not None and value >= charged.value:
        return f"{key} is under a full cell's {float(charged.value):g} {charged.unit}"
    return ""


def full_cell_limit(rules: Mapping[str, Rule], name: str) -> Limit | None:
    """A full cell's voltage, where a limit is the floor of one."""
    return rules[FULL].limits.get(name.replace("floor-", "full-")) if name.startswith("floor-") else None


def tightened(rules: Mapping[str, Rule], limits: Limits) -> dict[str, Rule]:
    """The rules with a club's numbers, ours beside them; of a number that several rules share, the strictest for all."""
    found = dict(rules)
    for name, limit, value in limits:
        for each in sharing(rules, name, limit):
            rule = found[each]
            now = rule.limits[limit]
            if value != now.value and not looser(rule, limit, value):
                changed = replace(now, value=value, ours=rules[each].limits[limit].value)
                found[each] = replace(rule, limits={**rule.limits, limit: changed})
    return found


def sharing(rules: Mapping[str, Rule], rule: str, limit: str) -> list[str]:
    """The rules that have this number in common: with another in one of them, a setup could pass between them."""
    home = rules[rule].limits[limit].home or rule
    return [other.name for other in rules.values()
            if limit in other.limits and home in (other.name, other.limits[limit].home)]  # fmt: skip


def looser(rule: Rule, limit: str, value: Fraction) -> bool:
    """Whether the rule would speak of less with that number."""
    now = rule.limits[limit].value
    return value > now if rule.limits[limit].stricter == "lower" else value < now
