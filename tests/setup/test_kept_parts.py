"""A setup that is built of kept tables is the one that is built afresh: after any edits, however broken the text is in between.

SETUPLINT_EDITS is how many edits to try, SETUPLINT_SEED where the chance begins.
"""

from __future__ import annotations

import os
import random
import re
from pathlib import Path
from typing import Any

import pytest

from setuplint.setup import Texts, built_setup, loaded_texts
from setuplint.setup.contents import contents
from setuplint.setup.file_sources import Folder
from setuplint.source import kept_tables, parsed_document
from setuplint.source.kept_tables import LONGEST, KeptTables, TablesOfMany
from tests import damage

EDITS = int(os.environ.get("SETUPLINT_EDITS", "120"))
SEED = int(os.environ.get("SETUPLINT_SEED", "1"))
ROOT = Path(__file__).parent.parent.parent
EXAMPLES = ["reference", "bittern", "goshawk", "plover", "club-radio"]  # the last but one extends the last
WAYS = [
    damage.cut,
    damage.lost,
    damage.doubled,
    damage.signed,
    damage.left_open,
    damage.mistyped,
    damage.repeated,
    damage.renamed,
]
HEADINGS = [
    "[alarms.new]",
    "[channels.motor.in.normal]",
    "[intent.level]",
    "[[claims]]",
    "[failsafe]",
    "[trainer]",
    "[packs.big]",
]


def moved(text: str, chance: random.Random) -> str:
    """Some lines lie elsewhere."""
    lines = text.split("\n")
    at, size = chance.randrange(len(lines)), chance.choice((1, 2, 6))
    block, lines[at : at + size] = lines[at : at + size], []
    to = chance.randrange(len(lines) + 1)
    return "\n".join([*lines[:to], *block, *lines[to:]])


def typed(text: str, chance: random.Random) -> str:
    """A digit, a word or a heading more or less."""
    at = chance.randrange(len(text) + 1)
    if chance.random() < 0.3:
        at = text.find("\n", at) + 1
        return f"{text[:at]}{chance.choice(HEADINGS)}\n{text[at:]}"
    words = [*'0123456789-.[]"#=\n', " and hold is on", " = 1\n", 'drives = "other"\n']
    return text[:at] + chance.choice(words) + text[at + chance.choice((0, 0, 1)) :]


def misnamed(text: str, chance: random.Random) -> str:
    """A part's heading with a capital letter: it is known by the name that is meant."""
    found = list(re.finditer(r"^\[[a-z]+\.([a-z])", text, re.MULTILINE))
    at = chance.choice(found).start(1) if found else 0
    return text[:at] + text[at : at + 1].upper() + text[at + 1 :]


def versions(text: str, chance: random.Random, count: int) -> list[str]:
    """A text, edited again and again; half of the edits are taken back at once."""
    found = [text]
    for _ in range(count):
        way = chance.choice((typed, typed, typed, moved, misnamed, *WAYS))
        found.append(text if chance.random() < 0.5 else way(chance.choice((text, found[-1])), chance)[:30_000])
    return found


def gathered(text: str) -> str:
    """The same setup with all parts of a kind below one heading, by dotted keys and without headings of their own."""
    groups: dict[str, list[str]] = {"": []}
    group, start = groups[""], ""
    for line in text.split("\n"):
        heading = re.match(r"\[\[?([a-z-]+)\.?([a-z0-9.-]*)\]", line)
        if heading is not None:
            kind, start = heading[1], heading[2] and f"{heading[2]}."
            group = groups.setdefault(kind, [f"[{kind}]"] if start else [])
        if heading is None or not start:
            group.append(re.sub(r"^(?=[a-z][a-z0-9.-]* *=)", start, line))
    return "\n".join("\n".join(group) for group in groups.values())


def said(texts: Texts) -> Any:
    """What a text means, with what is wrong with it, and where."""
    built = built_setup(texts)
    places = [texts.own.span(problem.path) for problem in built.problems]
    found = contents(texts, built.problems)
    setup = built.setup
    order = [list(getattr(setup, kind)) for kind in ("conditions", "modes", "channels", "overrides", "switches")]
    return setup, order, built.problems, places, found.cells, found.ground


@pytest.mark.parametrize("example", [*EXAMPLES, "reference, gathered", "bittern, gathered"])
def test_a_version_means_what_a_fresh_text_means(example: str) -> None:
    chance = random.Random(f"{SEED} {example}")
    name, _, is_gathered = example.partition(",")
    path = ROOT / "examples" / f"{name}.toml"
    text, folder = path.read_text(encoding="utf-8"), Folder(str(path))
    if is_gathered:
        before = parsed_document(text).values
        text = gathered(text)
        assert parsed_document(text).values == before
    kept: KeptTables | None = None
    parts = 0
    for version in versions(text, chance, EDITS // len(EXAMPLES)):
        kept = KeptTables(kept)
        texts = loaded_texts(version, path.name, folder, kept)
        if texts.own.kept is None:  # it cannot be read at all
            kept = None
            continue
        assert said(texts) == said(loaded_texts(version, path.name, folder)), version
        parts += len({"switches", "channel"} & {what for table in kept.by_values.values() for what in table.made})
    assert is_gathered or parts > EDITS // len(EXAMPLES) // 2


def test_what_another_file_was_read_into_means_the_same_in_this_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """Versions of all examples by turns, as a club's files come, some of the tables forgotten between."""
    monkeypatch.setattr(kept_tables, "MOST_PIECES", 400)
    chance, tables = random.Random(SEED), TablesOfMany()
    paths = [ROOT / "examples" / f"{name}.toml" for name in EXAMPLES] * 4
    chance.shuffle(paths)
    known = 0
    for path in paths:
        version, folder = versions(path.read_text(encoding="utf-8"), chance, 1)[-1], Folder(str(path))
        kept = tables.next(len(version))
        assert kept is not None
        before = {id(table) for table in kept._before.values()}
        texts = loaded_texts(version, path.name, folder, kept)
        assert said(texts) == said(loaded_texts(version, path.name, folder)), version
        known += sum(id(table) in before for table in kept.by_values.values())
    assert known > 300
    assert tables.next(LONGEST + 1) is None
