"""Steps for alarms on both sides of their thresholds, for timers, and for failsafe."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from setuplint.bench import card_model, items
from setuplint.bench.card_model import Item, Row
from setuplint.bench.items import MIDDLE, NO_HOLD, NO_RESCUE, SPRUNG
from setuplint.bench.maker import Maker
from setuplint.bench.routes import Plan, Route, arrive
from setuplint.bench.step_plans import calm_wishes, tour_plan
from setuplint.bench.walk import Walk
from setuplint.setup import formulas as f
from setuplint.setup.model import Setup

# -- alarms and timers


def add_alarms(make: Maker) -> None:
    plans: list[Plan] = []
    for alarm in make.setup.alarms.values():
        if alarm.audible:
            plans += _alarm_plans(make, alarm.name)
    for item in items.timer_items(make.setup):
        if make.is_open(item):
            route, answer = make.route(*calm_wishes(make, item.formula))
            if route is None:
                make.leave_undecided([item], answer)
                make.drop([item])
            else:
                plans.append(make.plan("timer", item.subject, [item], route))
    make.make_stage("alarms", plans)


def _alarm_plans(make: Maker, name: str) -> Iterator[Plan]:
    """A step for each sensor of the alarm. Where no threshold can be shown, one step in which it sounds."""
    pairs_of: dict[str, list[tuple[Item, Route]]] = {}
    for edge in items.alarm_edges(make.missing, name):
        pairs = make.routes((item, calm_wishes(make, item.formula)) for item in edge.items)
        if len(pairs) == len(edge.items):
            pairs_of.setdefault(edge.sensor, []).extend(pairs)
    for pairs in pairs_of.values():
        make.require(*(item for item, _ in pairs))
        yield tour_plan(make, "alarm", name, pairs)
    if not pairs_of:
        item = Item("sounds", name, formula=f.Sounds(name), without=make.missing.alarm(name))
        make.require(item)
        route, answer = make.route_to(item, calm_wishes(make, item.formula))
        if route is None:
            make.leave_unmet([item], answer)
        else:
            yield make.plan("alarm", name, [item], route)


# -- failsafe

HELD_OVER = Fraction(50)  # percent: with the sticks in the middle a place that is kept looks like one that was taught


def steering_sticks(setup: Setup) -> list[str]:
    """The aileron, elevator and rudder sticks that a channel with a failsafe follows."""
    read = {term.source for name in setup.failsafe or {} for term in setup.channels[name].terms}
    return [stick for stick in ("aileron", "elevator", "rudder") if stick in read]


def add_failsafe(make: Maker) -> None:
    setup = make.setup
    if not setup.failsafe:
        make.leave_out([items.GONE], "failsafe is not given")
        return
    plans = []
    if make.home.held:
        for _, route in make.routes([(items.GONE_HELD, calm_wishes(make, f.TRUE))]):
            make.require(items.GONE_HELD, items.RETURNS)
            plans.append(_link_loss_plan(make, "held", [items.GONE_HELD, items.RETURNS], route))
    over = [f.Compare(stick, ">=", HELD_OVER) for stick in steering_sticks(make.setup)]
    wishes = [
        (NO_HOLD, NO_RESCUE, SPRUNG, MIDDLE, *over),
        (NO_HOLD, NO_RESCUE, SPRUNG, MIDDLE),
        (NO_HOLD, MIDDLE),
        (NO_HOLD,),
    ]
    for _, route in make.routes([(items.GONE_FREE, [f.both(*wish) for wish in wishes])]):
        make.require(items.GONE_FREE)
        plans.append(_link_loss_plan(make, "free", [items.GONE_FREE], route))
    for item, away in items.failsafe_items(make.missing):
        there, answer = make.route(*calm_wishes(make, away))
        if there is None:
            make.leave_unmet([item], answer)
        else:
            make.require(item)
            plans.append(_link_loss_plan(make, item.subject, [item], there))
    make.make_stage("failsafe", plans)


def _link_loss_plan(make: Maker, subject: str, aims: Sequence[Item], route: Route) -> Plan:
    """The link is lost, and comes back with the hold on and the stick down, as the start check asks."""

    def rows(walk: Walk) -> list[Row] | None:
        if not arrive(walk, route):
            return None
        walk.switch_off()
        gone = walk.look(card_model.GONE)
        make.home.reset(walk)
        walk.switch_on()
        return [gone, walk.look()]

    return Plan("gone", subject, tuple(aims), rows, route.wants(make.home))
