"""A club's own limits: they tighten ours, and never loosen one."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from fractions import Fraction

from setuplint.book.rulebook import Limit, Rule

# Whether a smaller or a greater number makes a rule speak of more. What is in neither cannot be changed, as either way the
# rule would no longer speak of some setups: a full cell's voltage, full travel that points lie inside of, a change of power
# that a motor may not have room for.
SMALLER = frozenset(
    (
        *("hold-slow.longest", "mode-jump.motor", "mode-jump.collective", "rescue-lowers-power.drop"),
        *("rescue-too-strong.most", "rescue-release-drop.drop", "rescue-slow.level", "rescue-slow.motor"),
        *("curve-not-monotonic.turn", "curve-overshoot.beyond-points", "hover-too-sharp.slope"),
        *("hover-off-centre.off-centre", "curve-steep-outside.slope", "output-clipped.servo", "expo-harsh.most"),
        *("motor-lags.longest", "voltage-alarm-missing.capacity", "alarm-once.repeat", "alarm-once.repeat-link"),
        *("voltage-alarm-nervous.resting-lipo", "voltage-alarm-nervous.resting-lihv"),
        *("voltage-alarm-nervous.resting-li-ion", "voltage-alarm-nervous.resting-life", "voltage-alarm-late.wait"),
        *("flight-time-too-long.capacity", "failsafe-wastes-rotor.collective"),
    )
)
GREATER = frozenset(
    (
        *("start-in-idle-up.within", "mode-jump.ramp", "rescue-incomplete.over-hover", "rescue-too-weak.over-hover"),
        *("rescue-slow.over-hover", "curve-short-of-full.full", "hover-too-sharp.around", "curve-flat-at-hover.slope"),
        *("curve-flat-at-hover.around", "expo-harsh.least", "gyro-gain-lost.least"),
        *("voltage-alarm-below-floor.floor-lipo", "voltage-alarm-below-floor.floor-lihv"),
        *("voltage-alarm-below-floor.floor-li-ion", "voltage-alarm-below-floor.floor-life"),
        *("voltage-alarm-nervous.peak-after", "voltage-alarm-late.reserve", "voltage-alarm-late.way-down"),
        *("receiver-alarm-below-floor.floor",),
    )
)

# One number in several rules: what the motor must give in a rescue. With different ones a rescue could pass between them.
TOGETHER = (("rescue-incomplete", "over-hover"), ("rescue-too-weak", "over-hover"), ("rescue-slow", "over-hover"))

FULL = "cell-count-mismatch"

Limits = Iterable[tuple[str, str, Fraction]]  # rule, limit, the club's number


def objection(rules: Mapping[str, Rule], of: str, name: str, value: Fraction) -> str:
    """Why a club may not have this number for a limit of a rule; empty where it may."""
    rule = rules[of]
    ours = rule.limits[name]
    key = f"{rule.name}.{name}"
    if key not in SMALLER | GREATER:
        return f"{key} cannot be changed: it is not a limit that another number makes stricter"
    loosens = looser(rule, name, value)
    shown = f"{float(ours.value):g} {ours.unit}"
    if loosens and rule.signal == "danger":
        return f"this loosens {key}, which is {shown}: that rule keeps people from being hurt, and a club can only tighten it"
    if loosens:
        return f"this loosens {key}, which is {shown}: a club can only tighten; a setup may waive a finding, with its reason"
    if value < 0 <= ours.value:
        return f"{key} is not negative"
    charged = full(rules, name)
    if charged is not None and value >= charged.value:
        return f"{key} is under a full cell's {float(charged.value):g} {charged.unit}"
    return ""


def full(rules: Mapping[str, Rule], name: str) -> Limit | None:
    """A full cell's voltage, where a limit is the floor of one."""
    return rules[FULL].limits.get(name.replace("floor-", "full-")) if name.startswith("floor-") else None


def tightened(rules: Mapping[str, Rule], limits: Limits) -> dict[str, Rule]:
    """The rules with a club's numbers, ours beside them; of a number that several rules share, the strictest for all."""
    found = dict(rules)
    for name, limit, value in limits:
        for each, _ in TOGETHER if (name, limit) in TOGETHER else ((name, limit),):
            rule = found[each]
            now = rule.limits[limit]
            if value != now.value and not looser(rule, limit, value):
                changed = replace(now, value=value, ours=rules[each].limits[limit].value)
                found[each] = replace(rule, limits={**rule.limits, limit: changed})
    return found


def looser(rule: Rule, limit: str, value: Fraction) -> bool:
    """Whether the rule would speak of less with that number."""
    now = rule.limits[limit].value
    return value > now if f"{rule.name}.{limit}" in SMALLER else value < now
