"""How the card of a set-up is made: stage after stage, each step tried with the plain evaluator."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from setuplint.bench import card_model, order, proof, retrace, told
from setuplint.bench.card_model import Card, CardStep, Item, NotShown, Row, Stage
from setuplint.bench.missing import Missing
from setuplint.bench.questions import CardQuestions
from setuplint.bench.routes import Home, Plan, Route, arrive, first_route, is_undecided
from setuplint.bench.walk import Walk
from setuplint.bench.work import BEYOND, LOOKS_A_STAGE, QUESTIONS_A_STAGE, CardWork
from setuplint.budget import OutOfBudget, Spent
from setuplint.dataclass import replace
from setuplint.engine.answers import IMPOSSIBLE, Answer, Value
from setuplint.engine.decider import Decider
from setuplint.plain.settings import Impossible
from setuplint.setup import formulas as f
from setuplint.setup.model import Setup

UNREACHABLE = "proved: no state that can be reached has it"
NO_STEPS = "no steps with everything settled in between lead there"


Attempt = tuple[Walk, list[Row], list[Item], tuple[str, ...]]  # its end, its rows, what they show, what was on before


class Incomplete(Exception):
    """The card does not show all that it has to. That is a defect of this program, and never silent."""


class Maker:
    """Makes the steps, and keeps which items are shown and which cannot be."""

    def __init__(self, setup: Setup, spent: Spent | None = None) -> None:
        spent = spent or Spent()
        self.looks, self.asked = CardWork(LOOKS_A_STAGE, file=spent), CardWork(QUESTIONS_A_STAGE)
        self.questions = CardQuestions(Decider(setup, spent), self.asked)
        self.given, self.setup = setup, self.questions.setup  # the second starts, whatever the first asks
        self.home, self.missing = Home(self.questions), Missing(self.setup)
        self.walk = Walk(self.setup, self.home.readings)
        self.stages: list[Stage] = []
        self.items: dict[tuple[str, str, str], Item] = {}
        self.required: Counter[tuple[str, str]] = Counter()  # how many items there are of a kind and subject
        self.shown: set[tuple[str, str, str]] = set()
        self.left: dict[tuple[str, str, str], NotShown] = {}
        self.number = 0

    def more_work(self) -> None:
        """Each stage may cost as much again, so that none takes what the others need."""
        self.looks.most = self.looks.done + LOOKS_A_STAGE
        self.asked.most = self.asked.done + QUESTIONS_A_STAGE

    def require(self, *items: Item) -> None:
        """Add to what the card has to show."""
        for item in items:
            if item.key not in self.items:
                self.items[item.key] = item
                self.required[item.key[:2]] += 1

    def is_open(self, *items: Item) -> bool:
        """Whether one of the items is not shown yet."""
        return any(item.key not in self.shown for item in items)

    def drop(self, items: Iterable[Item]) -> None:
        """Take back items: what can never happen is nothing to show."""
        for item in items:
            if item.key not in self.shown and item.key not in self.left and item.key in self.items:
                del self.items[item.key]
                self.required[item.key[:2]] -= 1

    def leave_out(self, items: Iterable[Item], because: str, *, undecided: bool = False) -> None:
        for item in items:
            if item.key not in self.shown and item.key not in self.left:
                self.require(item)
                self.left[item.key] = NotShown(item, because, undecided)

    def leave_unmet(self, items: Sequence[Item], answer: Answer) -> None:
        """List items that cannot be shown, with the reason from the engine's answer."""
        why = UNREACHABLE if answer.verdict == IMPOSSIBLE else "; ".join(answer.because)
        self.leave_out(items, why, undecided=is_undecided(answer))

    def leave_undecided(self, items: Sequence[Item], answer: Answer) -> None:
        """List items that might happen, with the reason. What can never happen is nothing to show."""
        if is_undecided(answer):
            self.leave_unmet(items, answer)

    def route(self, *wishes: f.Formula) -> tuple[Route | None, Answer]:
        return first_route(self.questions, wishes)

    def route_to(self, item: Item, wishes: Sequence[f.Formula]) -> tuple[Route | None, Answer]:
        """A route to where the item is told."""
        return told.told_route(self.questions, self.home, item, wishes)

    def routes(self, asked: Iterable[tuple[Item, Sequence[f.Formula]]]) -> list[tuple[Item, Route]]:
        """The items that have a route, each by the first of its wishes that has; those that are undecided are listed."""
        found = []
        for item, wishes in asked:
            route, answer = self.route_to(item, wishes)
            if route is not None:
                found.append((item, route))
            elif told.is_untold(answer) and item.kind == "end":
                self.drop([item])  # an expo of a point or two is nothing to look for
            elif told.is_untold(answer):
                self.leave_unmet([item], answer)
            else:
                self.leave_undecided([item], answer)
        return found

    def plan(self, key: str, subject: str, aims: Sequence[Item], route: Route, *then: dict[str, Value]) -> Plan:
        """A step that goes to a state, reads, and reads again after each of `then`."""

        def rows(walk: Walk) -> list[Row] | None:
            if not arrive(walk, route):
                return None
            found = [walk.look()]
            for controls in then:
                walk.set_all(controls)
                found.append(walk.look())
            return found

        return Plan(key, subject, tuple(aims), rows, route.wants(self.home), route.case.assumed)

    def make_stage(self, key: str, plans: Sequence[Plan]) -> None:
        """Make the steps of a stage in the order of fewest movements. A step whose items are all shown by then is left out."""
        steps: list[CardStep] = []
        for index in order.shortest_order([plan.wants for plan in plans], self.home.controls):
            plan = plans[index]
            if plan.aims and not self.is_open(*plan.aims):
                continue
            step = None if self.looks.spent else self.step_of(plan)
            if step is not None:
                steps.append(step)
            why = f"only if {' and '.join(plan.assumed)}" if plan.assumed else NO_STEPS
            self.leave_out(plan.aims, BEYOND if self.looks.spent else why, undecided=self.looks.spent)
        if steps and self.walk.on:
            self.home.reset(self.walk)
            steps[-1] = replace(steps[-1], back=(*steps[-1].back, *self.walk.take_moves()))
        self.add_stage(key, steps)

    def add_stage(self, key: str, steps: Sequence[CardStep]) -> None:
        if steps:
            self.stages.append(Stage(key, tuple(steps)))

    def step_of(self, plan: Plan) -> CardStep | None:
        """One step and the way back. It starts from power-up again where a latch or toggle is in the way. None where neither
        attempt shows anything new."""
        aims = [item for item in plan.aims if self.is_open(item)]
        tried = [self._attempt(plan, aims, again=False)]
        if tried[0] is None or len(tried[0][2]) < len(aims):
            tried.append(self._attempt(plan, aims, again=True))
        best = max((each for each in tried if each is not None), key=lambda each: len(each[2]), default=None)
        if best is None or (aims and not best[2]):
            return None
        trial, rows, found, kept = best
        trial.work = CardWork()  # the way back is always there
        self.home.go_back(trial)
        back = trial.take_moves()
        self.walk.become(trial)
        return replace(self.numbered_step(plan.key, plan.subject, rows, back, found), kept=kept)

    def _attempt(self, plan: Plan, aims: Sequence[Item], *, again: bool) -> Attempt | None:
        trial = self.walk.copy()
        trial.work = self.looks
        kept = tuple(name for name in self.setup.conditions if name in trial.seen.memory.on)
        try:
            if again:
                self.home.reset(trial)
                trial.restart({})
            rows = plan.rows(trial)
            shown = proof.items_shown(self.setup, rows or (), aims, self.looks)
        except (Impossible, OutOfBudget):
            return None
        return (trial, rows, shown, () if again else kept) if rows else None

    def numbered_step(
        self, key: str, subject: str, rows: Sequence[Row], back: tuple[card_model.Move, ...], aims: Sequence[Item]
    ) -> CardStep:
        self.number += 1
        shows = (*aims, *self._also_shown(rows, aims))
        self.shown |= {item.key for item in shows}
        return CardStep(key, self.number, tuple(rows), back, shows, subject)

    def _also_shown(self, rows: Sequence[Row], aims: Sequence[Item]) -> list[Item]:
        """What a step shows besides; it is not looked for once the budget is spent."""
        known = self.shown | {item.key for item in aims}
        fresh = [item for key, item in self.items.items() if key not in known]
        try:
            self.looks.add(len(rows) * len(fresh))
            return proof.items_shown(self.setup, rows, fresh, self.looks)
        except OutOfBudget:
            return []

    def card(self) -> Card:
        stages = retrace.marked_stages(self.stages, self.setup)
        left = tuple(each for each in self.left.values() if each.item.key not in self.shown)
        card = Card(self.setup, stages, tuple(self.items.values()), left, self.home.state, self.home.held)
        missing = proof.missing_items(card)
        if missing:
            raise Incomplete(f"not shown: {[item.key for item in missing]}")
        return card
