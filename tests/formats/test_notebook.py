"""The protocol by which a notebook shows an object: `_repr_html_()`, text or nothing; and the library's own drawings."""

from __future__ import annotations

import re
from base64 import b64decode
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import pytest

import setuplint
from setuplint.pages.notebook import EDGES
from tests import once

ROOT = Path(__file__).parent.parent.parent
EXAMPLES = [
    path for path in sorted((ROOT / "examples").glob("*.toml")) if "[craft]" in path.read_text(encoding="utf-8")
]
HAZARDS = sorted((ROOT / "examples" / "hazards").glob("*.toml"))
ALONE = frozenset(("br", "img"))
SVG = "{http://www.w3.org/2000/svg}"


class Tree(HTMLParser):
    """Fails where an element is not closed in its turn; keeps the words."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.words = ""
        self.tags: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        if tag not in ALONE:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.words += data


def read(html: str) -> Tree:
    tree = Tree()
    tree.feed(html)
    tree.close()
    assert tree.open == []
    return tree


@pytest.mark.quick(2)
@pytest.mark.parametrize("path", [*EXAMPLES[:2], *HAZARDS[::4]], ids=lambda path: path.stem)
def test_reports_and_findings_show_themselves(path: Path) -> None:
    report = once.lint(path)
    shown = read(report._repr_html_())
    assert {"style", "script", "iframe"}.isdisjoint(shown.tags)  # a notebook's own look is left alone
    assert "not a clearance to fly" in shown.words
    assert ("nothing found" in shown.words) == (not report.findings)
    for finding in report.findings:
        assert finding.message in shown.words.replace("\u00a0", " ")
        alone = read(finding._repr_html_()).words.replace("\u00a0", " ")
        assert alone.startswith(f"{finding.signal.upper()} {finding.message}")
        for control, where in finding.witness.items():
            if not finding.steps:
                assert f"{control} {where}" in alone
    assert report.to_html().startswith("<!doctype html>")


def test_markup_in_a_name_is_text() -> None:
    text = 'format = 1\n[craft]\nname = "<script>x</script>"\n[sticks."<b>"]\n'
    report = setuplint.lint_text(text, "<i>.toml")
    assert report.findings
    for html in (report._repr_html_(), *(finding._repr_html_() for finding in report.findings)):
        assert read(html).tags.isdisjoint({"script", "b", "i"})


def test_a_curve_draws_itself() -> None:
    setup = setuplint.load(ROOT / "examples" / "reference.toml")
    curve = setup.curve("hover-soft")
    assert curve.points[2] == (0, 16)
    assert curve.smoothing == "monotone"
    root = ElementTree.fromstring(curve.svg())
    assert root.tag == f"{SVG}svg"
    marks = root.findall(f".//{SVG}g/{SVG}circle[@class='f0']")
    assert len(marks) >= len(curve.points)
    shown = curve._repr_html_()
    inside = re.fullmatch(r'<img src="data:image/svg\+xml;base64,([^"]+)" alt="curve hover-soft">', shown)
    assert inside is not None
    assert b64decode(inside.group(1)).decode() == curve.svg()
    with pytest.raises(KeyError):
        setup.curve("no-such")


def test_what_smoothing_does_is_told_in_the_picture() -> None:
    setup = setuplint.load(ROOT / "examples" / "hazards" / "curve-dips-when-smoothed.toml")
    words = "".join(ElementTree.fromstring(setup.curve("motor-normal").svg()).itertext())
    assert "turns back by 4.73 points" in words.replace("\u00a0", " ")


@pytest.mark.quick(4)
@pytest.mark.parametrize("path", [*EXAMPLES, *HAZARDS], ids=lambda path: path.stem)
def test_every_curve_is_a_document_of_its_own(path: Path) -> None:
    setup = setuplint.load(path)
    for name in setup.model.curves:
        text = setup.curve(name).svg()
        ElementTree.fromstring(text)
        assert not re.search(r"href|url\((?!#)|@import|<script", text)


def luminance(colour: str) -> float:
    """WCAG 2.2, relative luminance."""
    parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize("ground", ["#ffffff", "#111111"])
def test_the_edge_that_says_how_grave_it_is_shows_on_any_notebook(ground: str) -> None:
    for colour in EDGES.values():
        light, dark = sorted((luminance(colour), luminance(ground)), reverse=True)
        assert (light + 0.05) / (dark + 0.05) >= 3, (colour, ground)
