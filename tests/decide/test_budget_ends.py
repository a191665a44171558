"""A budget that ends anywhere in a question is an answer, not decided, and never an exception or another verdict."""

from __future__ import annotations

from collections import Counter

import pytest

import setuplint
from setuplint import budget
from setuplint.book import run
from setuplint.budget import Spent
from setuplint.curves import lines
from setuplint.engine.decider import Decider
from setuplint.setup import formulas as f
from setuplint.setup.model import Line, Setup
from tests.shapes import REFERENCE

PLACES = 9


def test_wherever_it_ends() -> None:
    text = ["format = 1"]
    for n in range(PLACES):
        text += [f"[switches.k{n}]", 'kind = "two-position"']
    for n in range(PLACES):
        text += [f"[conditions.c{n}]", f'when = "k{n} is on or k{(n + 1) % PLACES} is off"']
    setup = setuplint.load_text("\n".join(text)).model
    never = f.And((*(f.Holds(f"c{n}") for n in range(PLACES)), f.Or(())))  # its last part proves it
    whole, start = Decider(setup), Decider(setup).work
    assert whole.find(never).impossible
    told = Counter(Decider(setup, Spent(most=most)).find(never).verdict for most in range(start, whole.work + 1))
    assert set(told) == {"impossible", "not-decided"}
    assert told["not-decided"] > 50


def test_the_cases_of_a_line_are_counted_before_they_are_made(monkeypatch: pytest.MonkeyPatch) -> None:
    """They are kept: 2,000 lines that hang on nine switches each took 1.2 GB, made though nothing more was answered."""
    text = REFERENCE + "".join(f'[switches.s{n}]\nkind = "two-position"\n' for n in range(9))
    mix = ", ".join(f'{{ from = "s{n}", values = {{ off = {n}, on = 3 }} }}' for n in range(1, 9))
    for n in range(60):
        text += f'[channels.x{n}]\nfrom = "s0"\nvalues = {{ off = {n}, on = 90 }}\nmix = [{mix}]\n'
    made = []

    def counted(setup: Setup, line: Line) -> tuple[lines.LineCase, ...]:
        made.append(line)
        return cases(setup, line)

    cases = lines.cases
    monkeypatch.setattr(lines, "cases", counted)
    monkeypatch.setattr(budget, "WORK_A_FILE", 400_000)
    report = setuplint.lint_text(text)
    assert any(finding.rule == "not-decided" for finding in report.findings)
    assert len(made) < 40, (
        "those of the reference, and ten of the others: each takes 9 terms times 512 cases times eight"
    )


def test_a_file_too_large_for_the_engine_is_said_not_to_be_decided() -> None:
    """With packs of several sizes too, which the summary speaks of."""
    setup = setuplint.load_text(REFERENCE + "\n[packs.eight]\ncells = 8\n")
    report = run.lint(setup.texts, setup.model, setup.problems, spent=Spent(most=0))
    assert len({finding.subject for finding in report.findings if finding.rule == "not-decided"}) > 60
    assert report.rules < 40
