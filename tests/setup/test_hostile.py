"""Files from strangers: bounded work, no traceback, one finding a cause."""

from __future__ import annotations

import copy
import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import tomli_w

from setuplint.setup import Built, loaded_setup
from setuplint.setup.file_sources import Folder
from setuplint.source import Document

from . import whole
from .whole import WHOLE, edited

ROOT = Path(__file__).parents[2]
HEAD = "format = 1\n"
Steps = tuple[str | int, ...]


def read(text: str | bytes) -> tuple[Document, Built]:
    texts, setup, problems = loaded_setup(text, "x.toml")
    return texts.own, Built(setup, problems)


HOSTILE: dict[str, tuple[str | bytes, str]] = {
    "empty": ("", "which version of the format"),
    "nested arrays": (HEAD + "x = " + "[" * 90 + "]" * 90, "“x” is not a part"),
    "400 digits": (HEAD + "[battery]\ncells = " + "9" * 400, "outside 1 to 24"),
    "400 digits of a percentage": (HEAD + "[craft]\nmotor-off = " + "9" * 400, "number from -150 to 150"),
    "a great exponent": (HEAD + "[craft]\nmotor-off = 1e999999999", "not an amount"),
    "a small exponent": (HEAD + "[craft]\nmotor-off = 1e-999999999", "more digits"),
    "a key in brackets": (HEAD + '"[key]" = 1', "“[key]” is not a part"),
    "a key in brackets of a part": (HEAD + '[switches.hold]\nkind = "momentary"\n"[key]" = 1', "a key of [switches.hold]"),
    "not a number": (HEAD + "[craft]\nmotor-off = nan", "not an amount"),
    "endless": (HEAD + "[craft]\nmotor-off = -inf", "not an amount"),
    "100,000 nots": (HEAD + '[conditions.a]\nwhen = "' + "not " * 100_000 + 'a"', "400001 characters"),
    "1,000 nots": (HEAD + '[conditions.a]\nwhen = "' + "not " * 1000 + 'a"', "nested more than 50"),
    "1,000 parentheses": (HEAD + '[conditions.a]\nwhen = "' + "(" * 1000 + '"', "nested more than 50"),
    "another script": (HEAD + '[modes."полёт"]\n', "“полёт” is not a name"),
    "a curve of one point": (HEAD + "[curves.a]\npoints = [[0, 0]]", "one point"),
    "a curve of 10,000 points": (
        HEAD + "[curves.a]\npoints = [" + ",".join(f"[{n}, 0]" for n in range(10_000)) + "]",
        "10000 items",
    ),
    "a curve of 10,000 words": (HEAD + '[curves.a]\npoints = ["a"' + ', "a"' * 9_999 + "]", "10000 items"),
    "many values": (
        HEAD + '[switches.s]\nkind = "momentary"\n[channels.c]\nfrom = "s"\nvalues = {'
        + ", ".join(f"p{n} = 1" for n in range(5000)) + "}",
        "s has none of these positions",
    ),
    "many subjects": (HEAD + '[[waivers]]\nrule = "a"\nreason = "b"\non = [' + "1, " * 300_000 + "]", "300000 items"),
    "many claims": (HEAD + "claims = [" + "1, " * 300_000 + "]", "300000 items"),
    "many modes and channels": (
        HEAD + "".join(f'[modes.m{n}]\nwhen = "throttle > 0"\n' for n in range(5000))
        + "".join(f'[channels.c{n}]\nfrom = "throttle"\n' for n in range(5000)),
        "5000 modes and 5000 channels",
    ),
    "one number for all": (
        HEAD + "".join(f"[channels.c{n}]\nnumber = 1\n" for n in range(5000)),
        "channel 1 of the receiver is c0, c1",
    ),
    "a name of 400,000 letters twice": (
        HEAD + f"[knobs.{'a' * 400_000}]\n[conditions.{'a' * 400_000}]\nwhen = \"throttle > 0\"",
        "aaa",
    ),
    "all conditions name all": (
        HEAD
        + "".join(f'[conditions.c{n}]\nwhen = "{" or ".join(f"c{m}" for m in range(200))}"\n' for n in range(200)),
        "c0 depends on itself",
    ),
}  # fmt: skip


@pytest.mark.quick(3)
@pytest.mark.parametrize("name", HOSTILE)
def test_one_clear_finding(name: str) -> None:
    text, words = HOSTILE[name]
    document, built = read(text)
    assert not document.problems
    (problem,) = built.problems
    assert words in problem.message
    assert len(problem.message) <= 400
    assert len(problem.related) <= 20


@pytest.mark.parametrize("data", [bytes(range(256)) * 9, b"\xff\xfe", HEAD.encode() + b"# " + b"x" * 10_000_000])
def test_what_is_no_text_is_left_to_the_reader(data: bytes) -> None:
    document, built = read(data)
    assert len(document.problems) == 1
    assert built.problems == ()


@pytest.mark.parametrize("line", ['[conditions.c{}]\nwhen = "d{}x > 3"', "[craftt{}]", '[channels.c{}]\nfrom = "z{}"'])
def test_many_wrong_names(line: str) -> None:
    """Beyond some thousand comparisons no more names are offered, and the rest is said all the same."""
    text = HEAD + "\n".join(line.format(n, n) for n in range(4000))
    assert len(read(text)[1].problems) == 4000


def test_many_mistakes_in_one_place_are_all_said() -> None:
    text = HEAD + "[craft]\n" + "\n".join(f"motor-of{n} = 1" for n in range(3000))
    assert len(read(text)[1].problems) == 3000


def test_many_of_everything_is_read() -> None:
    text = HEAD + '[switches.s]\nkind = "momentary"\n'
    text += "".join(f'[conditions.l{n}]\nwhen = "s is pulled"\nuntil = "s is released"\n' for n in range(30))
    text += "".join(f"[knobs.k{n}]\n" for n in range(5000))
    text += "".join(f'[overrides.o{n}]\nchannel = "c"\nvalue = 0\nwhen = "k{n} > 0"\n' for n in range(2000))
    _, built = read(text + '[channels.c]\nfrom = "throttle"\n')
    assert built.problems == ()
    assert len(built.setup.overrides) == 2000


def places(value: Any, at: Steps = ()) -> Iterator[Steps]:
    items = value.items() if isinstance(value, dict) else enumerate(value)
    for step, inner in items:
        yield (*at, step)
        if isinstance(inner, dict | list):
            yield from places(inner, (*at, step))


def inside(tables: Any, at: Steps) -> Any:
    for step in at:
        tables = tables[step]
    return tables


@pytest.mark.quick(60)
@pytest.mark.parametrize("place", list(places(WHOLE)), ids=lambda place: ".".join(map(str, place)))
def test_one_mistake_is_one_finding(place: Steps) -> None:
    """Every key of the whole format with its last letter doubled, and with a value of another kind."""
    *above, last = place
    tables = copy.deepcopy(WHOLE)
    table = inside(tables, tuple(above))
    value = table[last]
    if isinstance(last, str):
        wrong = last + last[-1]
        renamed = {wrong if key == last else key: item for key, item in table.items()}
        table.clear()
        table.update(renamed)
        _, built = whole.load(tables)
        used_nowhere = len(place) == 2 and built.problems == ()
        assert used_nowhere or len(built.problems) == 1, built.problems
        table.pop(wrong)
    number = isinstance(value, int | float) and not isinstance(value, bool)
    table[last] = "zz" if number else 3
    taken = place[-1] in ("rate", "expo") or place[0] == "failsafe"
    _, built = whole.load(tables)
    assert len(built.problems) == 1 or (taken and built.problems == ()), built.problems


ODD: list[Any] = [
    True, 0, -1, 2.5, 151, "", "on", "Hold", "throttle", "hold", "pack", "low", "straight", "soft", [], [1], {},
    [[0, 0], [1, 1]], {"a": 1}, {"switch": "hold", "at": {"off": 1, "on": 2}}, "hold is on", "mode is sport",
    [{"from": "throttle"}] * 3, [1] * 12, [1] * 50, [{"rate": "x", "values": 3}] * 9,
]  # fmt: skip


def changed(tables: Any, pick: random.Random) -> None:
    at = tables
    while True:
        steps = list(at) if isinstance(at, dict) else list(range(len(at)))
        if not steps:
            return
        step = pick.choice(steps)
        if isinstance(at[step], dict | list) and at[step] and pick.random() < 0.85:
            at = at[step]
            continue
        change = pick.choice(["change", "change", "delete", "rename", "add"])
        if change == "delete":
            del at[step]
        elif change == "rename" and isinstance(at, dict):
            at[pick.choice(["wombat", "X", "from", "when", "throttle", "hold", "sport"])] = at.pop(step)
        elif change == "add" and isinstance(at, dict):
            added = pick.choice(["wombat", "value", "rate", "values", "mix", "in", "until", "toggles", "priorty"])
            at[added] = copy.deepcopy(pick.choice(ODD))
        else:
            at[step] = copy.deepcopy(pick.choice(ODD))
        return


def scratched(text: str, pick: random.Random) -> str:
    for _ in range(pick.choice([1, 2, 3])):
        at = pick.randrange(len(text))
        match pick.randrange(3):
            case 0:
                text = text[:at] + text[at + pick.randint(1, 30) :]
            case 1:
                text = text[:at] + pick.choice('[]{}="\n,.# -x1') + text[at:]
            case 2:
                text = text[:at] + text[at:].replace("\n", "", 1)
    return text


@pytest.mark.quick(1)
@pytest.mark.parametrize("seed", range(8))
def test_changed_files_never_fail(seed: int) -> None:
    pick = random.Random(seed)
    for _ in range(100):
        tables = edited()
        for _ in range(pick.choice([1, 1, 2, 4, 8])):
            changed(tables, pick)
        text = tomli_w.dumps(tables)
        if pick.random() < 0.4:
            text = scratched(text, pick)
        document, built = read(text)
        for problem in built.problems:
            whole.culprit(document, problem)
            assert problem.message.isprintable()
            assert problem.help
        causes = [(problem.rule, problem.subject) for problem in built.problems]
        assert len(set(causes)) == len(causes)


@pytest.mark.slow
def test_random_right_files_are_right() -> None:
    """The setups that the oracle's tests are made of: the whole format, always valid."""
    from oracle.setups import random_setup
    from oracle.toml_text import to_toml

    for seed in range(300):
        made: Any = random_setup(seed)
        document, built = read(made if isinstance(made, str) else to_toml(made))
        assert not document.problems
        assert built.problems == ()


@pytest.mark.parametrize("path", sorted((ROOT / "examples").rglob("*.toml")), ids=lambda p: p.stem)
def test_examples_are_right_set_ups(path: Path) -> None:
    texts, setup, problems = loaded_setup(path.read_bytes(), path.name, Folder(path))
    assert not any(document.problems for document in texts)
    assert (problems, setup.broken) == ((), frozenset())
