"""Every recipe of the cookbook, pasted, is silent; and the change that breaks its point makes its rule speak."""

from __future__ import annotations

import pytest

import setuplint
from setuplint.club.examples import edited
from tests.cookbook import Recipe, recipes

RECIPES = recipes()


@pytest.mark.quick(4)
@pytest.mark.parametrize("recipe", RECIPES, ids=lambda recipe: recipe.title)
def test_a_recipe_is_silent_until_its_point_is_broken(recipe: Recipe) -> None:
    sound = setuplint.lint_text(recipe.pasted)
    assert (sound.findings, sound.not_judged) == ((), ())
    assert recipe.breaks
    for change, rule in recipe.breaks:
        assert rule in {finding.rule for finding in setuplint.lint_text(edited(recipe.pasted, change)).findings}


def test_a_recipe_is_what_a_pilot_needs_and_no_more() -> None:
    assert len(RECIPES) == 12
    assert all(recipe.toml.count("\n") <= 45 for recipe in RECIPES)
