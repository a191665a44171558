"""Proof by the plain evaluator, from the card alone, that it shows all it has to and that its readings are right."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from setuplint.bench import card_model, missing
from setuplint.bench.card_model import Card, CardStep, Item, Row
from setuplint.bench.walk import Walk, power_up_kind, row_evaluations
from setuplint.bench.work import CardWork, setup_size
from setuplint.plain.evaluate import evaluate, truths
from setuplint.plain.logic import Truth
from setuplint.setup.formulas import Formula, Predicate
from setuplint.setup.model import Setup

HOLD = Predicate("hold called")
Truths = Callable[[Formula], Truth]


class RowEvaluation:
    """A row under the plain evaluator, evaluated once for all items."""

    def __init__(self, setup: Setup, row: Row, work: CardWork) -> None:
        self.setup, self.row, self.work, self.size = setup, row, work, setup_size(setup)
        self._here: Truths | None = None
        self._came: Truths | None = None
        self._told: dict[Callable[[], Setup], bool] = {}

    def holds(self, formula: Formula) -> bool:
        if self._here is None:
            row = self.row
            self._here = truths(self.setup, row.state, evaluate(self.setup, row.state, row.memory))
        return self._here(formula) is True

    def came_from(self, formula: Formula) -> bool:
        if self._came is None:
            state, memory = self.row.came
            self._came = truths(self.setup, state, evaluate(self.setup, state, memory))
        return self._came(formula) is True

    def shows(self, item: Item) -> bool:
        row = self.row
        if row.kind != item.shown_as or any(row.state.trim.get(s, 0) != amount for s, amount in item.trim.items()):
            return False
        if item.by and not (row.moves and row.moves[-1].kind == item.by):
            return False
        if not self.holds(item.formula) or (item.came is not None and not self.came_from(item.came)):
            return False
        return item.without is None or self.tells(item.without)

    def tells(self, without: Callable[[], Setup]) -> bool:
        if without not in self._told:
            self.work.add(self.size * row_evaluations(self.setup))
            self._told[without] = missing.tells(self.setup, without(), self.row)
        return self._told[without]


def items_shown(setup: Setup, rows: Iterable[Row], items: Iterable[Item], work: CardWork | None = None) -> list[Item]:
    """The items that at least one of the rows shows. OutOfBudget where `work` is spent."""
    seen = [RowEvaluation(setup, row, work or CardWork()) for row in rows]
    return [item for item in items if any(each.shows(item) for each in seen)]


def missing_items(card: Card) -> list[Item]:
    """Items that the card must show, and that are neither shown in a step that says so nor listed as impossible."""
    left = {each.item.key for each in card.left}
    said = ((step, [item for item in step.shows if item.key not in left]) for step in card.steps)
    found = {item.key for step, items in said for item in items_shown(card.setup, step.rows, items)}
    return [item for item in card.items if item.key not in found and item.key not in left]


def faults(card: Card) -> Iterator[str]:
    """The whole card done again, movement by movement. Every place where something else is read than the card says, or where a
    step does not start and end with hold called and the stick down."""
    walk = Walk(card.setup)
    for step in card.steps:
        if walk.on:
            yield from _unsafe_ends(card, walk, f"step {step.number} starts")
        for row in step.rows:
            for move in row.moves:
                walk.do(move)
            yield from _differences(card, walk, row, step)
            if row.kind in card_model.POWER_UP and not _is_power_up(row.kind, power_up_kind(card.setup, walk.state)):
                yield f"step {step.number}: power-up is not {row.kind}"
        for move in step.back:
            walk.do(move)
        if walk.on:
            yield from _unsafe_ends(card, walk, f"step {step.number} ends")


def _is_power_up(said: str, seen: str) -> bool:
    """What starts at home may warn there: some set-ups warn of everything."""
    return said == seen or (said, seen) == (card_model.STARTS, card_model.WARNED)


def _differences(card: Card, walk: Walk, row: Row, step: CardStep) -> Iterator[str]:
    seen = walk.copy().look(row.kind)
    walk.moves = []
    if (seen.readings, seen.mode, seen.alarms, seen.timers) != (row.readings, row.mode, row.alarms, row.timers):
        yield f"step {step.number} reads {seen.readings}, {seen.mode}, {seen.alarms}, {seen.timers}"
    if (seen.state, seen.memory) != (row.state, row.memory):
        yield f"step {step.number} is in {seen.state}"


def _unsafe_ends(card: Card, walk: Walk, where: str) -> Iterator[str]:
    if walk.state.sticks["throttle"] != card.home.sticks["throttle"]:
        yield f"{where} with the throttle stick up"
    if card.held and not walk.holds(HOLD):
        yield f"{where} with the hold off"
