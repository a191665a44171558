"""Silence is no proof: of a setup on which a rule speaks one key or table at a time is made unreadable, or two at once, and the
rule must still speak, or say that it is not judged or not decided. Rules about the text itself, and about what other rules say,
are not asked: what they tell is the mistake. Run by hand it tries every key of every example; exit status 1 where a rule is
silent.

    python -m tests.rules.unreadable [RULE ...]
"""

from __future__ import annotations

import sys
import tomllib
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from decimal import Decimal
from random import Random
from typing import Any

import setuplint
from setuplint.book import rulebook
from setuplint.book.rule_file import Example
from setuplint.findings import Report
from setuplint.setup.shape import whole_file
from tests.mutants.changes import Change, Path, Setup, changed, text_of
from tests.rules.edits import example_text

FORMULAS = ("when", "until", "requires", "runs", "lent", "hold", "stop", "rescue", "never", "always")


def judging() -> list[str]:
    """The rules that judge what the setup does; value-doubtful looks at one number after the other, each by itself."""
    rules = rulebook.rules().items()
    return [name for name, rule in rules if rule.asked not in ("loading", "afterwards") and name != "value-doubtful"]


def hazards(rule: str) -> list[Example]:
    """The examples on which a rule speaks that are one setup alone."""
    return [e for e in rulebook.page(rule).examples if e.speaks and e.beside is None and not e.records]


def keys(value: Any, path: Path = ()) -> Iterator[tuple[Path, Any]]:
    """Every key and table, those of tables in lists too."""
    if path:
        yield path, value
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from keys(inner, (*path, key))
    elif isinstance(value, list) and value and isinstance(value[0], dict):
        for n, inner in enumerate(value):
            yield from keys(inner, (*path, n))


def absent(setup: Setup) -> Iterator[tuple[Path, Any]]:
    """The tables that a setup could have and has not."""
    for key, row in whole_file()["keys"].items():
        if key not in setup and row["type"] in ("table", "tables", "map", "list"):
            yield (key,), [] if row["type"] == "list" else {}


def unreadable(path: Path, value: Any) -> list[Any]:
    """Values that the key cannot have: of another type, a table as if it were one of several, a formula of what there is not."""
    if isinstance(value, dict):
        return [True, [value], *([[]] if len(path) == 1 else [])]
    other = 7 if isinstance(value, list) else [["x"]]
    is_formula = path[-1] in FORMULAS and isinstance(value, str)
    return [other, *(["nothing is there"] if is_formula else [])]


def is_told(rule: str, report: Report) -> bool:
    """Whether the rule speaks, or says why it does not; or one speaks that says the same."""
    said_by = rulebook.rules()[rule].said_by
    return (
        any(finding.rule == rule or finding.rule in said_by for finding in report.findings)
        or any(note.rule == rule for note in report.not_judged)
        or any(f.rule == "not-decided" and f.subject.split()[:1] == [rule] for f in report.findings)
    )


def told_without(rule: str, setup: Setup, changes: list[Change]) -> bool:
    """Whether a rule is told of a setup in which some keys cannot be read."""
    only = [rule, *rulebook.rules()[rule].said_by]
    return is_told(rule, setuplint.lint_text(text_of(changed(setup, changes)), "reference.toml", only=only))


def keys_of(example: Example) -> tuple[Setup, list[tuple[Path, Any]]]:
    """The setup of an example, and what can be made unreadable in it."""
    setup = tomllib.loads(example_text(example), parse_float=Decimal)
    return setup, [key for key in (*keys(setup), *absent(setup)) if key[0] != ("format",)]


def silent_without(rule: str, example: Example, every: int = 1, first: int = 0) -> Iterator[str]:
    """The keys, or one in so many of them, that make a rule silent where they cannot be read."""
    setup, found = keys_of(example)
    for path, value in found[first % every :: every]:
        for other in unreadable(path, value):
            if not told_without(rule, setup, [(path, other)]):
                shown = "[[...]]" if other == [value] else other
                yield f"{rule}: {'.'.join(map(str, path))} = {shown}"


def silent_without_two(rule: str, count: int) -> Iterator[str]:
    """So many pairs of keys, drawn at random from the examples: those that make a rule silent."""
    draw, examples = Random(rule), hazards(rule)
    for _ in range(count if examples else 0):
        setup, found = keys_of(draw.choice(examples))
        pair = [(path, draw.choice(unreadable(path, value))) for path, value in draw.sample(found, 2)]
        (one, _), (two, _) = pair
        if one != two[: len(one)] and two != one[: len(two)] and not told_without(rule, setup, pair):
            yield f"{rule}: {' and '.join('.'.join(map(str, path)) for path, _ in pair)}"


def silences(rule: str, every: int = 1, first: int = 0) -> list[str]:
    """Of all examples of a rule."""
    return [line for n, e in enumerate(hazards(rule)) for line in silent_without(rule, e, every, first + n)]


def main(rules: list[str]) -> int:
    rules = rules or judging()
    count = 0
    with ProcessPoolExecutor() as pool:
        for found in pool.map(silences, rules):
            for line in dict.fromkeys(found):
                count += 1
                print(line, flush=True)
    print(f"{len(rules)} rules, {count} silences")
    return bool(count)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
