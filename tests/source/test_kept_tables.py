"""Versions of a text that keep their tables are read as without, whatever was done to it in between.

SETUPLINT_MUTATIONS is how many versions to try, SETUPLINT_SEED where the chance begins.
"""

import os
import random
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest

from setuplint.source import Document, parsed_document
from setuplint.source.kept_tables import KeptTables

from .test_mutations import _spoil

COUNT = int(os.environ.get("SETUPLINT_MUTATIONS", "1500"))
SEED = int(os.environ.get("SETUPLINT_SEED", "1"))
EXAMPLES = Path(__file__).parent.parent.parent / "examples"
TRICKY = """a.b = 1
top = 2
[x]
a = 1
in.one = { a = [1, 2] }
in.two = 3
[x.y]
b = "é"
[[list]]
c = 1
[list.inner]
d = 1
[[list]]
c = 1
[list.inner]
d = 1
[z.deep]
many = '''
[x]
'''
[z]
deeper.e = 1.50
[x.in.three]
points = [
[1, 2],
  [3, 4] ]
  [indented]
f = 1
[x.y]
twice = true
["quoted".k]
g = "\\\\u00e9 \\"x\\""
[last]
h = 1"""


def shown(document: Document) -> Any:
    """All that a document says, by its public methods."""
    found: list[Any] = [document.text, repr(document.values), document.problems, document.broken]

    def note(path: tuple[str | int, ...], value: Any) -> None:
        found.append((path, document.key_span(path), document.value_span(path)))  # of which span() is the best
        found.append((document.key_spans(path), document.number_text(path)))
        if isinstance(value, str):
            found.append([document.string_offset(path, n) for n in (0, 1, len(value))])
        inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
        for step, each in inner:
            note((*path, step), each)

    note((), document.values)
    for path in document.broken:
        found.append((document.span(path), document.key_spans(path)))
    return found


@lru_cache(20)
def shown_afresh(text: str) -> Any:
    """Of a text that was there before it was shown already."""
    return shown(parsed_document(text, "text"))


def versions(text: str, others: list[str], chance: random.Random, count: int) -> list[str]:
    """A text, edited again and again; now and then it is as it was before."""
    found = [text]
    for _ in range(count):
        step = chance.random()
        new = chance.choice(found) if step < 0.15 else _spoil(found[-1], others, chance)
        if step > 0.95:
            new = text
        found.append(new[:20_000])
    return found


@pytest.mark.quick(1)
@pytest.mark.parametrize("source", ["tricky", "crlf", "examples"])
def test_a_version_is_read_as_a_fresh_text(source: str) -> None:
    chance = random.Random(f"{SEED} {source}")
    setups = [path.read_text(encoding="utf-8") for path in sorted(EXAMPLES.glob("*.toml"))[:3]]
    texts = {"tricky": [TRICKY], "crlf": ["\ufeff" + TRICKY.replace("\n", "\r\n")], "examples": setups}[source]
    left = COUNT if source != "examples" else COUNT // 10
    again = 0
    while left > 0:
        kept: KeptTables | None = None
        for text in versions(chance.choice(texts), [TRICKY], chance, 12):
            kept = KeptTables(kept)
            document = parsed_document(text, "text", kept)
            assert shown(document) == shown_afresh(text), text
            again += len(kept.by_values)
            left -= 1
    assert again > COUNT // 10


@pytest.mark.parametrize(
    "row", ["  [a{n}]\n  b = 1\n", "[{n}]\n", "[ a{n} ]\n[b{n}]\n", "[a{n}]\nb = [\n[1],\n]\n", "[[a]]\n"]
)
def test_nothing_is_read_twice_by_itself(row: str) -> None:
    """However the headings look, as hostile texts have many."""
    text = "".join(row.format(n=n) for n in range(500))
    document = parsed_document(text, "text", KeptTables())
    assert document.kept is not None
    assert sum(map(len, document.kept.by_piece)) <= len(text)


def test_indented_tables_are_kept() -> None:
    text = "[a]\n  [a.b]\n  points = [\n    [-1, 2],\n  ]\n  [a.c]\n  d = 1\n"
    first = parsed_document(text, "text", KeptTables())
    second = parsed_document(text.replace("d = 1", "d = 2"), "text", KeptTables(first.kept))
    assert second.values["a"]["b"] is first.values["a"]["b"]


def test_the_same_lines_are_the_same_values() -> None:
    text = "format = 1\n[a]\nb = 1\n[c]\nd = [1]\n[c.e]\nf = 1\n"
    first = parsed_document(text, "text", KeptTables())
    second = parsed_document("# more\n" + text.replace("b = 1", "b = 2"), "text", KeptTables(first.kept))
    assert second.values["a"] is not first.values["a"]
    assert second.values["c"]["e"] is first.values["c"]["e"]  # though it lies elsewhere
    assert second.value_span(("c", "e", "f")) == (second.text.rindex("1"), len(second.text) - 1)
    assert first.values["c"] == {"d": [1], "e": {"f": 1}}
    third = parsed_document(text.replace("[c.e]\nf = 1\n", ""), "text", KeptTables(second.kept))
    assert third.values["c"] == {"d": [1]}
