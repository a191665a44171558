"""Agreement with the standard library's reader, verdict and values, on texts that were spoilt at random.

SETUPLINT_MUTATIONS is how many texts to try (4,000 if it is not set), SETUPLINT_SEED where the chance begins.
"""

import os
import random
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from setuplint.source import Document, parsed_document

from .same import same

_COUNT = int(os.environ.get("SETUPLINT_MUTATIONS", "4000"))
_SEED = int(os.environ.get("SETUPLINT_SEED", "1"))
_PIECES = [
    *"\"'[]{}=.,#\n\t -+_\\01e:TZ", "\r\n", "\r", '"""', "'''", "[[", "]]", "true", "inf", "nan", "0x1F", "1_0", "a.b",
    "a = 1\n", "[a]\n", "[[a]]\n", "[a.b]\n", "{ a = 1 }", "{a.b=1,a.c=2}", "[1, 2]", "2027-04-01", "18:30:00",
    "\\u00e9", "\\\n", "é", "\x0b", "\x7f", "1.5", "1e5", "\n\n", " = ", ", ", "# x\n",
]  # fmt: skip


def _spoil(text: str, others: list[str], chance: random.Random) -> str:
    for _ in range(chance.choice((1, 1, 1, 2, 3, 6))):
        at = chance.randint(0, len(text))
        to = min(len(text), at + chance.choice((1, 1, 2, 3, 8, 30)))
        kind = chance.randrange(8)
        if kind == 0:
            text = text[:at] + text[to:]
        elif kind in (1, 2):
            text = text[:at] + chance.choice(_PIECES) + text[at:]
        elif kind == 3:
            text = text[:at] + chance.choice(_PIECES) + text[to:]
        elif kind == 4:
            text = text[:to] + text[at:]
        elif kind == 5:
            lines = text.splitlines(keepends=True) or [""]
            chance.shuffle(lines) if chance.random() < 0.2 else lines.insert(
                chance.randrange(len(lines)), chance.choice(lines)
            )
            text = "".join(lines)
        elif kind == 6:
            other = chance.choice(others)
            begin = chance.randint(0, len(other))
            text = text[:at] + other[begin : begin + 40] + text[at:]
        else:
            text = text[:at] if chance.random() < 0.3 else text.replace("\n", "\r\n", chance.randint(0, 5))
    return text


def _texts(suite: dict[str, bytes]) -> Iterator[str]:
    chance = random.Random(_SEED)
    seeds = [
        data.decode("utf-8-sig") for name, data in suite.items() if name.startswith("valid/") and name.endswith(".toml")
    ]
    seeds = [seed for seed in seeds if len(seed) < 4000]
    setups = [path.read_text(encoding="utf-8") for path in sorted((Path(__file__).parent / "setups").glob("*.toml"))]
    assert len(setups) >= 2
    for _ in range(_COUNT):
        # Pieces of the setups, whose lines are short and many, make more of legal mutants than the setups whole.
        if chance.random() < 0.3:
            lines = chance.choice(setups).splitlines(keepends=True)
            begin = chance.randrange(len(lines))
            text = "".join(lines[begin : begin + chance.randint(1, 25)])
        else:
            text = chance.choice(seeds)
        yield _spoil(text, seeds + setups, chance)


def _check_places(document: Document) -> None:
    for problem in document.problems:
        assert 0 <= problem.span.start <= problem.span.end <= len(document.text), problem

    def check(path: tuple[str | int, ...], value: Any) -> None:
        if path:
            assert document.value_span(path) or document.key_span(path), path
        if isinstance(value, dict):
            for key, inner in value.items():
                check((*path, key), inner)
        elif isinstance(value, list):
            for index, inner in enumerate(value):
                check((*path, index), inner)

    check((), document.values)


@pytest.mark.slow
def test_spoilt_texts(suite: dict[str, bytes]) -> None:
    legal = 0
    for text in _texts(suite):
        document = parsed_document(text)
        _check_places(document)
        assert bool(document.broken) <= bool(document.problems), text
        # From Python 3.15 on the standard library may read TOML 1.1, which is no judge of 1.0.
        if sys.version_info < (3, 15):
            legal += _agrees(text, document)
    assert sys.version_info >= (3, 15) or _COUNT * 0.1 < legal < _COUNT * 0.9


def _agrees(text: str, document: Document) -> bool:
    import tomllib

    try:
        theirs = tomllib.loads(text)
    except ValueError:
        assert document.problems, text
        return False
    assert not document.problems, (text, document.problems)
    assert same(document.values, theirs), text
    return True
