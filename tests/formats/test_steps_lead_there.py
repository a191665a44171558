"""The steps that a finding prints lead to what it says, gone one after the other from power-up, in random setups."""

from __future__ import annotations

import pytest

import setuplint
from setuplint.formats.case_text import assumed_smoothing
from setuplint.formats.step_outputs import states_after
from setuplint.plain.evaluate import OFF, evaluate
from tests.oracle.setups import random_setup

# Two sensors of one pack; a trim in the last step; one of the pack lost at rest and another heard; the same, and both heard.
SEEDS = (33, 55, 423, 12042)


@pytest.mark.quick(3)
@pytest.mark.parametrize("seed", SEEDS)
def test_steps_lead_to_the_outputs(seed: int) -> None:
    text = random_setup(seed)
    setup = setuplint.load_text(text).model
    gone = 0
    for finding in setuplint.lint_text(text, "made-up.toml").findings:
        states = states_after(setup, finding.steps, assumed_smoothing(finding))
        tied = any("wins the tie" in each for each in finding.assumed)
        if not states or finding.timing is not None or finding.then or tied:
            continue
        gone += 1
        memory = OFF
        for state in states:
            seen = evaluate(setup, state, memory)
            memory = seen.memory
        assert {name: seen.outputs[name] for name in finding.outputs} == finding.outputs, finding.message
    assert gone
