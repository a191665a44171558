"""Where the cursor is, the words of formulas and the positions of an editor: by themselves."""

from __future__ import annotations

import itertools

import pytest

from setuplint.server.completion import completions
from setuplint.server.cursor import cursor
from setuplint.server.formula_words import formula_words
from setuplint.server.positions import Lines
from setuplint.setup.formula_parser import parsed_formula
from setuplint.setup.formulas import PREDICATES


@pytest.mark.parametrize(
    ("text", "kind", "path", "typed"),
    [
        ("for|", "key", (), "for"),
        ("[craft]\nhov|", "key", ("craft",), "hov"),
        ('[craft]\nkind = "heli|\n', "value", ("craft", "kind"), "heli"),
        ("[ch|", "heading", (), "ch"),
        ("[channels.mo|", "heading", ("channels",), "mo"),
        ("[channels.motor]\nin.|", "key", ("channels", "motor", "in"), ""),
        (
            '[channels.motor]\nin.idle-up = { curve = "sp|" }',
            "value",
            ("channels", "motor", "in", "idle-up", "curve"),
            "sp",
        ),
        ('[c.m]\nrate = { switch = "r", at = { so|', "key", ("c", "m", "rate", "at"), "so"),
        ('[c.m]\nmix = [\n  { from = "rudder" },\n  { from = |', "value", ("c", "m", "mix", 1, "from"), ""),
        ('[[claims]]\nnever = "x"\n[[claims]]\nnever = "hold |', "value", ("claims", 1, "never"), "hold "),
        ('[overrides.x]\nwhen = "hold is |\n[alarms.y]', "value", ("overrides", "x", "when"), "hold is "),
        ("[overrides.x]\nvalue = 5 # com|", "none", (), ""),
        ("[curves.x]\npoints = [\n [0, 0],\n [|", "value", ("curves", "x", "points", 1, 0), ""),
        ("[a]\nb = [[1, 2]]\n[c|", "heading", (), "c"),
        ('[a]\r\nb = "c|', "value", ("a", "b"), "c"),
        ('[a]\nb = "c"|', "none", (), ""),
    ],
)
def test_cursor(text: str, kind: str, path: tuple[str | int, ...], typed: str) -> None:
    offset = text.index("|")
    found = cursor(text.replace("|", ""), offset)
    assert (found.kind, found.path, found.typed) == (kind, path, typed)
    assert found.start == offset - len(typed)


@pytest.mark.slow
def test_no_broken_text_is_too_broken() -> None:
    """Every text of up to three pieces, asked at its end and in its middle."""
    pieces = ["= 1", "[", "]", "{", "}", '"', "'", ".", ",", "a", "\n", "[[", "= ", "#", "\u2028", "[x]", "is ", "when"]
    for count in (1, 2, 3):
        for parts in itertools.product(pieces, repeat=count):
            text = "".join(parts)
            for offset in {len(text), len(text) // 2}:
                found = completions({}, text, offset)
                assert 0 <= found.replaces.start <= offset <= found.replaces.end
                assert "\n" not in text[offset : found.replaces.end]


def test_words_of_a_formula() -> None:
    text = "mode is not calm and output motor <= -12.5 or not (hold called) and pack is lost or motor follows throttle"
    found = [(word.role, word.text) for word in formula_words(text)]
    assert found == [
        ("keyword", "mode"), ("keyword", "is"), ("keyword", "not"), ("mode", "calm"), ("keyword", "and"),
        ("keyword", "output"), ("channel", "motor"), ("operator", "<="), ("number", "-12.5"), ("keyword", "or"),
        ("keyword", "not"), ("bracket", "("), ("predicate", "hold"), ("predicate", "called"), ("bracket", ")"),
        ("keyword", "and"), ("control", "pack"), ("keyword", "is"), ("lost", "lost"), ("keyword", "or"),
        ("channel", "motor"), ("keyword", "follows"), ("stick", "throttle"),
    ]  # fmt: skip
    parsed_formula(text)
    for predicate in PREDICATES:
        assert {word.role for word in formula_words(predicate)} == {"predicate"}
    assert [word.of for word in formula_words("hold is not on")] == ["", "", "", "hold"]


def test_words_of_what_is_no_formula_yet() -> None:
    found = [(word.role, word.text) for word in formula_words("hold is ?? and ((pa")]
    assert found == [
        ("control", "hold"), ("keyword", "is"), ("keyword", "and"), ("bracket", "("), ("bracket", "("), ("control", "pa"),
    ]  # fmt: skip


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "utf-32"])
def test_positions_go_there_and_back(encoding: str) -> None:
    text = "a\r\nb🚁é\u2028𝔵\rc\n\n\x85d"
    lines = Lines(text, encoding)
    assert len(lines.starts) == 5  # \r\n, \r, \n, \n: no other character ends a line
    for offset in range(len(text) + 1):
        if text[offset - 1 : offset + 1] != "\r\n":
            assert lines.offset(*lines.position(offset)) == offset
    wide = {"utf-8": (1, 5), "utf-16": (1, 3), "utf-32": (1, 2)}[encoding]
    assert tuple(lines.position(text.index("é"))) == wide
    marked = Lines("\ufeff" + text, encoding)
    assert marked.position(0) == (0, {"utf-8": 3, "utf-16": 1, "utf-32": 1}[encoding])
    assert marked.offset(1, 0) == lines.offset(1, 0)
    assert Lines("ab\nc", encoding).replaced((0, 1), (1, 0), "x") == "axc"
    assert lines.offset(1, 2) == text.index("🚁") if encoding != "utf-32" else True  # inside a character: its start
