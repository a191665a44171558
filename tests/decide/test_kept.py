"""Answers that are kept are those of a fresh run, byte for byte: over seeded hazards, and by what the frames were asked."""

from __future__ import annotations

import random
import re
import sys
from collections.abc import Callable
from functools import cache
from typing import Any

import pytest

from setuplint.book import run
from setuplint.book.choices import Choices
from setuplint.book.kept import RestingAnswers, RuleAnswer, RuleMemory
from setuplint.book.radios import habits
from setuplint.budget import Spent
from setuplint.dataclass import field_names, replace
from setuplint.engine import kept as kept_module
from setuplint.engine.decider import Decider
from setuplint.engine.kept import Kept
from setuplint.findings import Report
from setuplint.library import lint_text, load_text, record
from setuplint.setup import formulas as f
from setuplint.setup.contents import CRAFT, FIELDS, INTENT, TABLES, contents
from setuplint.setup.model import Channel
from setuplint.setup.reads import Reads
from setuplint.solver.frame import Frame
from tests.mutants.changes import text_of
from tests.mutants.mutants import SAFE, drafts, safe
from tests.mutants.seeds import FAMILIES
from tests.shapes import SHAPES

SMALL = [example for example in SAFE if example not in ("lapwing", "bittern", "kestrel")]


@cache
def shuffled(example: str) -> list[dict[str, Any]]:
    """All mutants of an example, in a random order that is always the same."""
    found = [mutant for family in FAMILIES for _, mutant in drafts(example, family)[1:]]
    random.Random(example).shuffle(found)
    return found


def seeded(example: str, every: int) -> list[str]:
    """Of all mutants of an example one in so many, as texts."""
    found = shuffled(example)
    return [text_of(mutant) for mutant in found[: len(found) // every]]


def said(report: Report) -> tuple[Any, ...]:
    return report.findings, report.not_judged, report.waived, report.remarks, report.rules, report.states


@pytest.mark.slow
@pytest.mark.parametrize("example", SMALL)
def test_a_report_is_that_of_a_fresh_run(example: str) -> None:
    kept, texts = Kept(), [text_of(safe(example)), *seeded(example, 120)]
    for text in texts:
        assert said(lint_text(text, kept=kept)) == said(lint_text(text))
    found = len(kept.answered)
    for text in texts:
        lint_text(text, kept=kept)
    assert len(kept.answered) == found > 80  # all that can be is known by now


@pytest.mark.quick(1)
@pytest.mark.parametrize("example", SMALL[:2])
def test_the_same_text_is_the_same_part(example: str) -> None:
    """Of two files with one ground, whatever has the same text: a cell's part, and all that no cell has."""
    base = load_text(text_of(safe(example)))
    ground = contents(base.texts, base.problems)
    compared = 0
    for text in seeded(example, 6):
        other = load_text(text)
        there = contents(other.texts, other.problems)
        if there.ground != ground.ground:
            continue
        compared += 1
        same = {cell for cell, own in ground.cells.items() if there.cells[cell] == own}
        for kind in TABLES:
            old, new = getattr(base.model, kind), getattr(other.model, kind)
            assert (
                list(old) == list(new) or kind == "conditions"
            )  # these stand in the order in which they need each other
            if kind == "channels":
                old, new = ({name: replace(each, number=None) for name, each in some.items()} for some in (old, new))
            assert [name for name in old if (kind, name) in same and old[name] != new[name]] == []
        for name in field_names(base.model):
            if name in FIELDS:
                is_same = (FIELDS[name], "") in same or (FIELDS[name], "") not in ground.cells
            else:
                is_same = name not in (*TABLES, "craft", "intent")
            assert not is_same or getattr(base.model, name) == getattr(other.model, name), name
        for name, keys in (("craft", CRAFT), ("intent", INTENT)):
            changed = {attribute for attribute, own in keys.items() if any((name, key) not in same for key in own)}
            old, new = getattr(base.model, name), getattr(other.model, name)
            assert [x for x in field_names(old) if x not in changed and getattr(old, x) != getattr(new, x)] == []
    assert compared > 20


@pytest.mark.parametrize("example", ["bittern", *SMALL[:3]])
def test_no_answer_hangs_on_the_number_of_a_channel(example: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """So they are no part of what answers are kept by: nobody may read one while rules are judged."""

    def read(channel: Channel) -> Any:
        """For copies and comparisons alone."""
        assert sys._getframe(1).f_code.co_filename.endswith("dataclass.py")
        return number.__get__(channel)

    number = Channel.__dict__["number"]
    texts = [text_of(safe(example)), *seeded(example, 150)]
    for text in texts:
        renumbered = re.sub(
            r"^number = (\d+)$", lambda found: f"number = {33 - int(found[1])}", text, flags=re.MULTILINE
        )
        assert renumbered != text
        assert said(lint_text(renumbered)) == said(lint_text(text))
        loaded = load_text(text)
        with monkeypatch.context() as patch:
            patch.setattr(Channel, "number", property(read))
            run.lint(loaded.texts, loaded.model, loaded.problems)


@pytest.fixture
def touched(monkeypatch: pytest.MonkeyPatch) -> set[Any]:
    """Cells of what frames are asked about, as it happens."""
    cells: set[Any] = set()

    def noting(name: str, told: Callable[[Frame, Any], set[Any]]) -> None:
        method = getattr(Frame, name)

        def noted(self: Frame, *asked: Any) -> Any:
            cells.update(told(self, *asked))
            return method(self, *asked)

        monkeypatch.setattr(Frame, name, noted)

    def of_formula(frame: Frame, formula: f.Formula) -> set[Any]:
        cones = frame.encoding.cones
        return {*cones.cells(cones.bits_of(formula)), *cones.of([formula]).besides}

    noting("truth", of_formula)
    noting("condition", lambda frame, name: of_formula(frame, f.Holds(name)))
    noting("modes", lambda frame: {("modes", name) for name in frame.setup.modes})
    noting("deciders", lambda frame, channel: {("overrides", o.name) for o in frame._all(channel)})
    noting("output", lambda frame, channel, *_: of_formula(frame, f.Decides(channel, None)))
    return cells


@pytest.mark.quick(1)
@pytest.mark.parametrize("example", SMALL)
def test_a_rule_rests_on_what_its_questions_rest_on(
    example: str, touched: set[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever a frame was asked about while a rule was judged is among what the rule is kept by."""
    resting: dict[str, set[Any]] = {}

    def noting(self: RuleMemory, of_what: dict[Any, Any], judged: Callable[[], RuleAnswer]) -> RuleAnswer:
        before, answer = set(touched), judged()
        if not self.reads.everything:  # of a part of a rule too
            own = (touched - before) - self.reads.all_cells()
            resting[f"{len(resting)}"] = {cell for cell in own if cell in self.known.cells}
        return answer

    monkeypatch.setattr(RuleMemory, "_judged", noting)
    setup = load_text(text_of(safe(example)))
    judged = run.Run(setup.model, run.Spent(), Choices(), None, {}, [])
    judged.keep_in(Kept(), setup.texts, setup.problems)
    for rule in run.asked_rules(Choices(), None):
        touched.clear()
        judged.ask(rule)
    assert {name: cells for name, cells in resting.items() if cells} == {}
    assert len(resting) > 80


def test_what_comes_near_the_budget_is_asked_again_without(monkeypatch: pytest.MonkeyPatch) -> None:
    text, spent = text_of(safe("reference")), list[Spent]()

    def noted() -> Spent:
        spent.append(Spent())
        return spent[-1]

    kept = Kept()
    whole = lint_text(text, kept=kept)
    monkeypatch.setattr(run, "Spent", noted)
    assert lint_text(text, kept=kept).work == whole.work  # what others took counts for what comes after
    assert spent[-1].saved > whole.work // 2
    monkeypatch.setattr("setuplint.budget.WORK_A_FILE", whole.work + 1)
    assert said(lint_text(text, kept=kept)) == said(lint_text(text))
    assert spent[-2].saved == 0 < spent[-3].saved  # it was begun again, and nothing was taken from what is kept
    assert len(kept.heavy) == 1  # and nothing is looked for the next time
    monkeypatch.setattr("setuplint.budget.WORK_A_FILE", whole.work // 2)
    again = lint_text(text, kept=kept)
    assert said(again) == said(lint_text(text))
    assert any(finding.rule == "not-decided" for finding in again.findings)


def test_what_takes_much_by_itself_is_judged_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """It was judged to its end with what is kept, and then again without."""
    text, times = text_of(safe("reference")), list[int]()
    ask_all = run.Run.ask_all
    monkeypatch.setattr(run.Run, "ask_all", lambda self, *given: (times.append(1), ask_all(self, *given)))
    monkeypatch.setattr("setuplint.budget.WORK_A_FILE", lint_text(text).work)
    times.clear()
    kept = Kept()
    assert said(lint_text(text, kept=kept)) == said(lint_text(text))
    assert (len(times), len(kept.heavy)) == (2, 1)


def test_another_limit_is_another_answer() -> None:
    text = text_of(safe("reference"))
    kept, rules = Kept(), dict(Choices().rules)
    rule = rules["hover-too-sharp"]
    limits = {name: replace(limit, value=limit.value / 100) for name, limit in rule.limits.items()}
    stricter = Choices(rules={**rules, rule.name: replace(rule, limits=limits)})
    for choices in (Choices(), stricter, Choices()):
        assert said(lint_text(text, kept=kept, choices=choices)) == said(lint_text(text, choices=choices))
    assert said(lint_text(text, choices=stricter)) != said(lint_text(text))


@pytest.mark.slow
def test_what_is_kept_is_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kept_module, "MOST_KEPT", 1_000)
    kept = Kept()
    for text in seeded("reference", 40):
        assert said(lint_text(text, kept=kept)) == said(lint_text(text))
        assert kept.weight < 8_000
        assert len(kept.answered) + len(kept.others) < 4_000


@pytest.mark.slow
def test_an_override_that_moves_to_another_channel_is_seen_there() -> None:
    """What acts on a channel is no key of the channel's own."""
    text = text_of(safe("bittern"))
    seeded = '[overrides.seeded]\nchannel = "{}"\nvalue = {}\nwhen = "flight is show"\npriority = 7\n'
    kept = Kept()
    for channel, value in (("attitude", -100), ("tail-gain", 8), ("pitch", 8), ("tail-gain", 30)):
        other = f"{text}\n{seeded.format(channel, value)}"
        assert said(lint_text(other, kept=kept)) == said(lint_text(other))


def test_answers_of_a_first_file_are_kept_by_its_contents() -> None:
    setup = load_text(text_of(safe("reference")))
    known = Kept().known(contents(setup.texts, setup.problems))
    assert known is not None
    cells = frozenset(known.cells)
    assert RestingAnswers(cells).numbers(known) == known.numbers(cells) != frozenset()


def test_nothing_is_kept_of_a_file_that_no_craft_has() -> None:
    """To look up what each question of it rests on would take more than to ask."""
    setup = load_text(SHAPES["alarms"](kept_module.MOST_CELLS + 1))
    assert Kept().known(contents(setup.texts, setup.problems)) is None


def decided(text: str, kept: Kept | None) -> Decider:
    setup = load_text(text)
    known = kept.known(contents(setup.texts, setup.problems)) if kept else None
    return Decider(setup.model, known=known)


def test_a_latch_of_a_question_rests_on_what_its_formulas_mean() -> None:
    """Which number drives the rotor is no part of the latch's cone."""
    text = text_of(safe("reference"))
    assert "motor-off = -95" in text
    kept, driven = Kept(), f.Predicate("rotor driven")
    for number in (-95, 100, -90):
        other = text.replace("motor-off = -95", f"motor-off = {number}")
        found = [
            decided(other, each).watching("driven", driven, f.FALSE).find(f.Holds("driven")).verdict
            for each in (kept, None)
        ]
        assert found[0] == found[1]
        assert (found[1] == "found") is (number != 100)


def test_whether_the_craft_can_start_rests_on_its_check() -> None:
    """And on nothing else that is asked there."""
    setup = load_text(text_of(safe("reference"))).model
    for name in setup.conditions:
        made = replace(setup, start=f.Holds(name))
        decider = Decider(made, reads=(reads := Reads()))
        assert reads.all_cells() == set()  # nobody has looked
        possible = decider.start_possible
        assert ("conditions", name) in reads.all_cells(), possible


def test_setups_of_one_radio_are_compared_as_by_fresh_runs() -> None:
    """What they call is kept, and what is said of that, for as long as what is usual stays the same."""
    each = [text_of(safe("reference")), *seeded("reference", 200)]
    each += [text.replace("is pulled", "is released") for text in each[:2]]
    asked = (
        each[0].replace('rescue = "save is pulled"', 'rescue = "asked"')
        + '[conditions.asked]\nwhen = "save is pulled"\n'
    )
    each += [asked, asked.replace("is pulled", "is released")]
    texts = {f"{n}.toml": text for n, text in enumerate(each)}
    records = [record(text, name) for name, text in texts.items()]
    kept = Kept()
    for _ in range(2):
        assert [record(text, name, kept=kept) for name, text in texts.items()] == records
    every, last = (habits(one for one in some if one) for some in (records, records[-1:]))
    spoken = []
    for usual in (every, last, every):
        fresh = [lint_text(text, name, habits=usual) for name, text in texts.items()]
        assert [said(lint_text(text, name, habits=usual, kept=kept)) for name, text in texts.items()] == list(
            map(said, fresh)
        )
        spoken.append([report.name for report in fresh if "rescue-elsewhere" in {x.rule for x in report.findings}])
    assert spoken[0]
    assert spoken[1]
    assert spoken[0] != spoken[1]
