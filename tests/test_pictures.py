"""The pictures of the README and the guide are what the tool makes of the examples today, and stand by themselves."""

from __future__ import annotations

import re
from xml.etree import ElementTree

from tests.pictures import FOLDER, ROOT, made


def test_they_are_current() -> None:
    for name, picture in made().items():
        assert (FOLDER / name).read_text(encoding="utf-8") == picture + "\n", (
            "python -m tests.pictures writes them again"
        )
    assert {path.name for path in FOLDER.iterdir()} == set(made())


def test_a_page_shows_each_with_words_for_who_cannot_see_it() -> None:
    pages = "".join((ROOT / name).read_text(encoding="utf-8") for name in ("README.md", "docs/guide.md"))
    shown = re.findall(r"!\[([^\]]+)\]\((?:\.\./)?examples/pictures/([^)]+)\)", pages)
    assert {name for _, name in shown} == set(made())
    assert all(len(words.split()) > 5 for words, _ in shown)


def test_they_need_nothing_else() -> None:
    for name, picture in made().items():
        ElementTree.fromstring(picture)
        assert "prefers-color-scheme: dark" in picture, name
        assert not re.search(r"href|url\((?!#)|@import|<script|http(?!://www\.w3\.org/2000/svg)", picture), name
