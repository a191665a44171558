"""Alarms on both sides of their thresholds, timers, and failsafe."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from setuplint.bench import card_model, items
from setuplint.bench.card_model import Item, Row
from setuplint.bench.items import NO_HOLD, NO_RESCUE, SPRUNG, control_at
from setuplint.bench.maker import Maker
from setuplint.bench.routes import Plan, Route, arrive
from setuplint.bench.step_plans import calm_wishes, tour_plan
from setuplint.bench.walk import Walk
from setuplint.setup import formulas as f

MIDDLE = control_at("throttle", Fraction(0))


# -- alarms and timers


def add_alarms(make: Maker) -> None:
    plans: list[Plan] = []
    for alarm in make.setup.alarms.values():
        if alarm.audible:
            plans += _alarm_plans(make, alarm.name)
    for item in items.timer_items(make.setup):
        if make.is_open(item):
            way, _ = make.route(*calm_wishes(make, item.formula))
            if way is None:
                make.drop([item])
            else:
                plans.append(make.plan("timer", item.subject, [item], way))
    make.make_stage("alarms", plans)


def _alarm_plans(make: Maker, name: str) -> Iterator[Plan]:
    """A step for each sensor that the alarm hangs on; one where it sounds, where no threshold of it can be shown."""
    pairs_of: dict[str, list[tuple[Item, Route]]] = {}
    for edge in items.alarm_edges(make.setup, name):
        ways = [make.route(*calm_wishes(make, item.formula))[0] for item in edge.items]
        if all(way is not None for way in ways):
            pairs = [(item, way) for item, way in zip(edge.items, ways, strict=True) if way is not None]
            pairs_of.setdefault(edge.sensor, []).extend(pairs)
    for pairs in pairs_of.values():
        make.require(*(item for item, _ in pairs))
        yield tour_plan(make, "alarm", name, pairs)
    if not pairs_of:
        item = Item("sounds", name, formula=f.Sounds(name))
        make.require(item)
        way, answer = make.route(*calm_wishes(make, item.formula))
        if way is None:
            make.leave_unmet([item], answer)
        else:
            yield make.plan("alarm", name, [item], way)


# -- failsafe


def add_failsafe(make: Maker) -> None:
    setup = make.setup
    if not setup.failsafe:
        make.leave_out([items.GONE], "failsafe is not given")
        return
    plans = []
    if make.home.held:
        way, _ = make.route(*calm_wishes(make, f.TRUE))
        if way is not None:
            make.require(items.GONE_HELD, items.RETURNS)
            plans.append(_link_loss_plan(make, "held", [items.GONE_HELD, items.RETURNS], way))
    wishes = [(NO_HOLD, NO_RESCUE, SPRUNG, MIDDLE), (NO_HOLD, MIDDLE), (NO_HOLD,)]
    way, _ = make.route(*(f.both(*wish) for wish in wishes))
    if way is not None:
        make.require(items.GONE_FREE)
        plans.append(_link_loss_plan(make, "free", [items.GONE_FREE], way))
    make.make_stage("failsafe", plans)


def _link_loss_plan(make: Maker, subject: str, aims: Sequence[Item], way: Route) -> Plan:
    """The link goes, and comes back with the hold on and the stick down, as the start check has it."""

    def rows(walk: Walk) -> list[Row] | None:
        if not arrive(walk, way):
            return None
        walk.switch_off()
        gone = walk.look(card_model.GONE)
        make.home.reset(walk)
        walk.switch_on()
        return [gone, walk.look()]

    return Plan("gone", subject, tuple(aims), rows, way.wants(make.setup))
