"""The grammar: TOML as it is, formulas in colour, and only in tables of ours. By the engine that the editor has."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

import pytest

from setuplint.server.formula_words import CONNECTIVES, FORMULA_KEYS
from setuplint.setup.formulas import PREDICATES

from .conftest import EXTENSION, ROOT

pytestmark = pytest.mark.slow
FORMULA = "meta.embedded.formula.setuplint"
OURS = '[conditions.low]\nwhen = "pack < 21.6 and not (link is lost or mode is idle-up)" # and\n'
LONG = 'until = """\nhold is not on\nand -12.5 < throttle"""\nafter = 1.5\n'
INLINE = "[overrides]\nheld = { channel = \"motor and pitch\", value = -100, when = 'hold is on' }\n"
CLAIM = '[[claims]]\nnever = "output motor > -96 and pitch follows elevator"\nbecause = "hold and save"\n'
OTHER = '[tool.x]\nwhen = "a and b"\n[package]\nrequires = "a is b"\n[intent-of-mine]\nhold = "a or b"\n'


def scopes(checkout: Path, text: str) -> list[tuple[str, str]]:
    """The tokens of a text, each with its scopes."""
    run = ["node", "test/scopes.mjs"]
    done = subprocess.run(run, cwd=checkout / EXTENSION, input=text, capture_output=True, text=True, check=True)
    parts = [line.rpartition('" ') for line in done.stdout.splitlines()]
    return [(json.loads(word + '"'), held) for word, _, held in parts]


def coloured(found: list[tuple[str, str]]) -> dict[str, str]:
    """Of the words of formulas, their last scopes."""
    return {word: held.split()[-1].removesuffix(".setuplint") for word, held in found if FORMULA in held}


def test_every_word_of_a_formula_by_its_role(checkout: Path) -> None:
    found = scopes(checkout, OURS + LONG + INLINE + CLAIM)
    words = coloured(found)
    roles = {
        "variable.other.readwrite": "pack link throttle hold pitch elevator",
        "keyword.operator.comparison": "< >",
        "constant.numeric": "21.6 -12.5 -96",
        "keyword.operator.logical": "and not or",
        "keyword.operator": "is",
        "constant.language.lost": "lost",
        "variable.other.enummember": "idle-up on",
        "keyword.other": "mode output follows",
        "variable.other.property": "motor",
    }
    wanted = {word: role for role, words in roles.items() for word in words.split()}
    assert {word: role for word, role in words.items() if word in wanted} == {**wanted, "not": words["not"]}
    assert "# and" not in words
    assert ("1.5", "meta.table.setuplint constant.numeric.toml") in found
    assert not [held for word, held in found if word in ("motor and pitch", "hold and save") and FORMULA in held]
    assert ("hold and save", "meta.table.setuplint string.quoted.double.toml") in found


def test_every_key_and_predicate_of_the_format_is_known(checkout: Path) -> None:
    text = "".join(
        f"[{'[' * (table == 'claims')}{table}{'.x' * (depth == 3 and table != 'claims')}{']' * (table == 'claims')}]\n"
        + "".join(f'{key} = "{predicate}"\n' for key in keys for predicate in sorted(PREDICATES))
        for table, (depth, keys) in FORMULA_KEYS.items()
    )
    found = [word for word, held in scopes(checkout, text) if "support.function.predicate" in held]
    assert len(found) == len(PREDICATES) * sum(len(keys) for _, keys in FORMULA_KEYS.values())
    assert set(found) == set(PREDICATES)
    words = " ".join(CONNECTIVES)
    assert set(coloured(scopes(checkout, f'[start]\nrequires = "{words}"\n'))) == set(CONNECTIVES)


def test_other_files_have_no_formulas(checkout: Path) -> None:
    for text in (OTHER, (ROOT / "pyproject.toml").read_text(encoding="utf-8")):
        found = scopes(checkout, text)
        assert not [held for _, held in found if "setuplint" in held]
    assert ("a is b", "string.quoted.double.toml") in scopes(checkout, OTHER)
