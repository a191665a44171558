"""Plans of steps that several stages need."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from setuplint.bench import proof
from setuplint.bench.card_model import Item, Row
from setuplint.bench.items import HOLD, LOW, NO_RESCUE, SPRUNG, Sweep
from setuplint.bench.maker import Maker
from setuplint.bench.routes import Plan, Route, arrive
from setuplint.bench.walk import Walk
from setuplint.setup import formulas as f


def calm_wishes(make: Maker, formula: f.Formula) -> list[f.Formula]:
    """The formula with hold on, the stick down and all released, then with less and less of that."""
    down = [(HOLD, LOW, SPRUNG, NO_RESCUE), (HOLD, LOW, SPRUNG), (HOLD, LOW), (HOLD,), (LOW, SPRUNG), ()]
    return [f.both(formula, *wish) for wish in (down if make.home.held else down[4:])]


def tour_plan(make: Maker, key: str, subject: str, pairs: Sequence[tuple[Item, Route]]) -> Plan:
    """A step that goes from item to item, and skips those that an earlier reading shows."""

    def rows(walk: Walk) -> list[Row] | None:
        found: list[Row] = []
        for item, route in pairs:
            if not make.is_open(item) or proof.items_shown(make.setup, found, [item], walk.work):
                continue
            if not arrive(walk, route):
                return None
            found.append(walk.look())
        return found

    aims = tuple(item for item, _ in pairs)
    assumed = tuple(dict.fromkeys(each for _, route in pairs for each in route.case.assumed))
    return Plan(key, subject, aims, rows, pairs[0][1].wants(make.home), assumed)


def end_plans(make: Maker, sweep: Sweep) -> Iterator[Plan]:
    """A step with a stick or knob at both ends. An end at which the line never decides is left out."""
    found = make.routes((item, calm_wishes(make, item.formula)) for item in sweep.items)
    shown = {item.key for item, _ in found}
    make.drop(item for item in sweep.items if item.key not in shown)
    if found:
        yield tour_plan(make, "ends", sweep.stick, found)
