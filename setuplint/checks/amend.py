"""Edits that many rules give: a formula with a part changed or added, an override that gives another output."""

from __future__ import annotations

from fractions import Fraction
from math import ceil, floor

from setuplint.book.asking import Asking
from setuplint.curves.servo import demand_for
from setuplint.dataclass import replace
from setuplint.findings import Edit
from setuplint.plain.channel_values import output
from setuplint.setup import formulas as f
from setuplint.setup.formula_text import decimal_text, formula_text, with_leaf_replaced
from setuplint.setup.model import Bound, Channel, Override, Path, Setup

FARTHEST = 150  # percent: what an override's value may be


def number_edit(path: Path, value: Fraction) -> Edit | None:
    text = decimal_text(value)
    return None if text is None else Edit(path, text)


def formula_at(setup: Setup, path: Path) -> f.Formula | None:
    """The `when` of a condition or an alarm."""
    kind, name, key = path if len(path) == 3 else ("", "", "")
    if key != "when":
        return None
    if kind == "conditions" and name in setup.conditions:
        return setup.conditions[str(name)].when
    if kind == "alarms" and name in setup.alarms:
        return setup.alarms[str(name)].when
    return None


def formula_edit(path: Path, what: f.Formula) -> Edit | None:
    """The formula written at a path."""
    text = formula_text(what)
    return None if text is None else Edit(path, f'"{text}"')


def threshold_edit(ask: Asking, path: Path, old: f.Compare, number: Fraction) -> Edit | None:
    """Another number in a comparison of the formula at a path."""
    there = formula_at(ask.setup, path)
    if there is None or old not in f.atoms(there):
        return None
    return formula_edit(path, with_leaf_replaced(there, old, f.Compare(old.name, old.op, number)))


def start_edit(ask: Asking, *wanted: f.Formula) -> Edit | None:
    """`[start] requires` with more to it, without what cannot be met beside that. None where nothing would be admitted then."""
    if ask.broken("start"):
        return None
    start = ask.setup.start if ask.setup.start_warns is None else ask.setup.start_warns
    had = start.items if isinstance(start, f.And) else () if start is None else (start,)
    kept = [part for part in had if not any(is_contrary(part, other) for other in wanted)]
    asked = f.both(*kept, *(part for part in wanted if part not in kept))
    setup = replace(ask.setup, start=asked, start_warns=None)
    return formula_edit(("start", "requires"), asked) if ask.decider.of_variant(setup).start_possible else None


def is_contrary(one: f.Formula, other: f.Formula) -> bool:
    """Two positions of one switch, or two comparisons that no number meets: there the one was a slip."""
    match one, other:
        case f.SwitchIs(switch, position), f.SwitchIs(name, at):
            return switch == name and position != at
        case f.Compare(name, op, number), f.Compare(stick, way, bound):
            upwards, limits = op in (">", ">="), (number, bound)
            if name != stick or upwards == (way in (">", ">=")):
                return False
            least, most = limits if upwards else limits[::-1]
            return least > most or (least == most and not (op in (">=", "<=") and way in (">=", "<=")))
    return False


def demand_key(override: Override, channel: Channel, upwards: bool) -> str | None:
    """The key of an override with which it puts its channel further up, or down; None: not by changing one of its keys."""
    if not override.limits:
        return "value"
    key = "at-least" if upwards != channel.reversed else "at-most"
    return key if key in override.numbers and len(override.numbers) == 1 else None


def override_edit(override: Override, channel: Channel, least: Fraction | None, most: Fraction | None) -> Edit | None:
    """A number with which an override puts its channel within these bounds, near the lower one, or else the upper."""
    end = least if least is not None else most
    demand = None if end is None else demand_for(channel, end)
    key = demand_key(override, channel, upwards=least is not None)
    if demand is None or key is None or (override.limits and least is not None and most is not None):
        return None
    for value in (Fraction(floor(demand * 10), 10), Fraction(ceil(demand * 10), 10)):
        given = output(channel, value)
        good = (least is None or given >= least) and (most is None or given <= most)
        if good and abs(value) <= FARTHEST:
            return number_edit(("overrides", override.name, key), value)
    return None


def least_and_most(bound: Bound) -> tuple[Fraction | None, Fraction | None]:
    """The least and the most output that an intent asks for."""
    return (bound.at_least, bound.at_most) if bound.value is None else (bound.value - 1, bound.value + 1)


def output_edit(setup: Setup, override: str, bound: Bound) -> Edit | None:
    """A value with which an override does what an intent asks of its channel: just that, where it asks for one value."""
    channel, decides = setup.channels[bound.channel], setup.overrides[override]
    exact = None if bound.value is None else override_edit(decides, channel, bound.value, bound.value)
    return exact or override_edit(decides, channel, *least_and_most(bound))


def keeps_within(setup: Setup, override: Override, bound: Bound) -> bool:
    """Whether an override puts its channel where an intent asks for it whenever it decides."""
    least, most = least_and_most(bound)
    ends = (
        [override.limited(Fraction(end)) for end in (-FARTHEST, FARTHEST)]
        if override.limits
        else override.numbers.values()
    )
    given = [output(setup.channels[bound.channel], demand) for demand in ends]
    return bool(given) and all((least is None or x >= least) and (most is None or x <= most) for x in given)
