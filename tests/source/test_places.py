"""Where things stand: spans of keys, values, headings and items, columns, and places inside strings."""

import pickle
import re
from collections.abc import Iterator
from pathlib import Path as File
from typing import Any

import pytest

from setuplint.source import Document, Path, Span, parsed_document

SETUPS = sorted((File(__file__).parent / "setups").glob("*.toml"))


def _slice(document: Document, span: Span | None) -> str | None:
    return None if span is None else document.text[span.start : span.end]


def _leaves(value: Any, path: Path = ()) -> Iterator[tuple[Path, Any]]:
    if path:
        yield path, value
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, item in inner:
        yield from _leaves(item, (*path, key))


TEXT = """\
top = 1
[craft]
name = "Wren"  # comment
motor-off=-9_5
big.hover  =  2.50
big . "off-set" = 'x'

[overrides.held]
when = [ "a", 'b' , [ 1,2 ] ]
at = { soft = 60, deep.full = [ true, 18:30:00 ] }
  [ overrides . "re scue" ]
value = -0.1e+5
[[claims]]
never = \"\"\"
two
lines\"\"\"
[[claims]]
[claims.about]
since = 2027-04-01 18:30:00Z
[overrides]
later = inf
"""


@pytest.mark.parametrize(
    ("path", "key", "value"),
    [
        (("top",), "top", "1"),
        (("craft",), "craft", "[craft]"),
        (("craft", "name"), "name", '"Wren"'),
        (("craft", "motor-off"), "motor-off", "-9_5"),
        (("craft", "big"), "big", None),
        (("craft", "big", "hover"), "hover", "2.50"),
        (("craft", "big", "off-set"), '"off-set"', "'x'"),
        (("overrides",), "overrides", "[overrides]"),
        (("overrides", "held"), "held", "[overrides.held]"),
        (("overrides", "held", "when"), "when", """[ "a", 'b' , [ 1,2 ] ]"""),
        (("overrides", "held", "when", 0), None, '"a"'),
        (("overrides", "held", "when", 1), None, "'b'"),
        (("overrides", "held", "when", 2), None, "[ 1,2 ]"),
        (("overrides", "held", "when", 2, 1), None, "2"),
        (("overrides", "held", "at"), "at", "{ soft = 60, deep.full = [ true, 18:30:00 ] }"),
        (("overrides", "held", "at", "soft"), "soft", "60"),
        (("overrides", "held", "at", "deep"), "deep", None),
        (("overrides", "held", "at", "deep", "full"), "full", "[ true, 18:30:00 ]"),
        (("overrides", "held", "at", "deep", "full", 1), None, "18:30:00"),
        (("overrides", "re scue"), '"re scue"', '[ overrides . "re scue" ]'),
        (("overrides", "re scue", "value"), "value", "-0.1e+5"),
        (("claims",), "claims", "[[claims]]"),
        (("claims", 0), "claims", "[[claims]]"),
        (("claims", 0, "never"), "never", '"""\ntwo\nlines"""'),
        (("claims", 1, "about"), "about", "[claims.about]"),
        (("claims", 1, "about", "since"), "since", "2027-04-01 18:30:00Z"),
        (("overrides", "later"), "later", "inf"),
        (("nothing",), None, None),
        (("craft", "name", "deeper"), None, None),
        (("claims", 2), None, None),
        (("claims", -1), None, None),
        (("claims", "0"), None, None),
        (("craft", 0), None, None),
    ],
)
@pytest.mark.parametrize("ends", ["\n", "\r\n"])
def test_spans(path: Path, key: str | None, value: str | None, ends: str) -> None:
    document = parsed_document(TEXT.replace("\n", ends).encode())
    assert document.problems == []
    assert _slice(document, document.key_span(path)) == key
    assert _slice(document, document.value_span(path)) == (value and value.replace("\n", ends))


def test_each_claim_has_its_own_heading() -> None:
    document = parsed_document("[[claims]]\n[[claims]]\n")
    assert [document.value_span(("claims", index)) for index in (0, 1)] == [Span(0, 10), Span(11, 21)]


def test_best_place_to_point_at() -> None:
    document = parsed_document("# first\n[a.b]\nc = 1\n")
    assert _slice(document, document.span(("a", "b", "c"))) == "1"
    assert _slice(document, document.span(("a", "b"))) == "[a.b]"
    assert _slice(document, document.span(("a",))) == "a"
    assert _slice(document, document.span(("a", "b", "missing", 3))) == "[a.b]"
    assert _slice(document, document.span(("missing",))) == "# first"
    assert _slice(document, document.span(())) == "# first"
    assert parsed_document("").span(("a",)) == Span(0, 0)


@pytest.mark.slow
def test_every_value_is_at_its_place(suite: dict[str, bytes]) -> None:
    """The text of each span, read alone, gives the value and the key again."""
    texts = [path.read_bytes() for path in SETUPS]
    texts += [data for name, data in suite.items() if name.startswith("valid/") and name.endswith(".toml")]
    count = 0
    for data in texts:
        document = parsed_document(data)
        for path, value in _leaves(document.values):
            key, whole = _slice(document, document.key_span(path)), _slice(document, document.value_span(path))
            if isinstance(path[-1], str):
                assert key is not None
                assert parsed_document(f"{key} = 1").values == {path[-1]: 1}
            if whole is None or (isinstance(value, dict | list) and _is_heading(document, path)):
                continue
            again = parsed_document(f"x = {whole}")
            assert again.problems == []
            assert repr(again.values["x"]) == repr(value)
            number = type(value).__name__ in ("int", "Decimal")
            assert document.number_text(path) == (whole if number else None)
            count += 1
    assert count > 1000


def _is_heading(document: Document, path: Path) -> bool:
    span = document.value_span(path)
    assert span is not None
    key = document.key_span(path)
    return key is not None and span.start < key.start


@pytest.mark.parametrize(
    ("data", "path", "where"),
    [
        ("\ufeffa = 1".encode(), ("a",), (1, 5)),
        ("\ufeffa = 1", ("a",), (1, 5)),
        (b"\xef\xbb\xbf\r\n\r\na = 1\r\n", ("a",), (3, 5)),
        (b"x = 1\r\n\ta\t=\t1\r\n", ("a",), (2, 6)),
        ('"é🚁" = "ß"\na = { "ü" = "ö", b = 1 }'.encode(), ("a", "b"), (2, 22)),
        ('z = "🚁🚁" # ü\r\na = ["🚁", 1]'.encode(), ("a", 1), (2, 11)),
        ('m = """\r\né\r\n"""\r\na = 1'.encode(), ("a",), (4, 5)),
    ],
)
def test_columns(data: bytes | str, path: Path, where: tuple[int, int]) -> None:
    document = parsed_document(data)
    assert document.problems == []
    span = document.value_span(path)
    assert span is not None
    assert document.position(span.start) == where
    line, column = where
    assert document.line_text(line)[column - 1] in "1"


def test_columns_of_problems() -> None:
    document = parsed_document("\ufeff[ä]\r\n\té = 1\r\nb = ü\r\n".encode())
    assert [document.position(problem.span.start) for problem in document.problems] == [(1, 2), (2, 2), (3, 5)]


def test_lines() -> None:
    document = parsed_document("a = 1\r\n\r\nb = 2\nc = 3")
    assert [document.line_text(line) for line in range(6)] == ["", "a = 1", "", "b = 2", "c = 3", ""]
    assert document.position(-5) == (1, 1)
    assert document.position(999) == (4, 6)
    assert document.position(9) == (3, 1)
    assert parsed_document("").position(0) == (1, 1)


def test_text_keeps_its_line_ends() -> None:
    assert parsed_document(b"\xef\xbb\xbfa = 1\r\nb = 2\n").text == "a = 1\r\nb = 2\n"


ESCAPE = re.compile(r"\\(?:u.{4}|U.{8}|.)")
STRINGS = [
    r'"plain"',
    r'"a\tb\\c\"d\u00e9e\U0001F681f"',
    r'"\n"',
    r'""',
    "'raw \\n \"x\"'",
    "''",
    '"""one\ntwo"""',
    '"""\nafter the line end\n"""',
    '"""\r\nwith\r\ncarriage\\r\r\n"""',
    '"""joined \\\n   \t\n  here \\  \r\n\r\n and \\u00e9 there"""',
    '"""quotes "" inside and ""\\""" and two at the end"""""',
    '""""one quote first"""',
    '"""\\\n"""',
    "'''raw\r\nlines ''and'' 'quotes'''''",
    "'''\nfirst\n\nthird'''",
    "'''''''",
    '"""é🚁\r\n🚁"""',
]


@pytest.mark.parametrize("literal", STRINGS)
def test_offsets_inside_strings(literal: str) -> None:
    """Every character stands at its offset as itself, as a line end, or as the escape that means it."""
    document = parsed_document(f'["é"]\nlist = [ 0, {literal} ] # end')
    assert document.problems == []
    path = ("é", "list", 1)
    value = document.values["é"]["list"][1]
    span = document.value_span(path)
    assert span is not None
    offsets = [document.string_offset(path, index) for index in range(len(value) + 1)]
    assert offsets == sorted(set(offsets))
    for character, start, end in zip(value, offsets, offsets[1:], strict=False):
        written = document.text[start:end]
        if written.startswith("\\") and literal[0] == '"':
            escape = ESCAPE.match(written)
            assert escape is not None
            assert parsed_document(f'x = "{escape[0]}"').values["x"] == character
        elif character == "\n":
            assert written.startswith(("\n", "\r\n"))
        else:
            assert written[0] == character
    quotes = literal[0] * (3 if literal.startswith(literal[0] * 3) else 1)
    assert document.text[offsets[-1] : span.end] == quotes
    assert document.string_offset(path, len(value) + 5) == offsets[-1]
    assert document.string_offset(path, -1) == offsets[0]


def test_offset_of_a_joined_line() -> None:
    document = parsed_document('when = """\\\n  hold \\\n    is on"""')
    assert document.values["when"] == "hold is on"
    assert document.text[document.string_offset(("when",), 0) :].startswith("hold")
    assert document.text[document.string_offset(("when",), 5) :].startswith("is on")


@pytest.mark.parametrize("path", [("a",), ("t",), ("t", "b"), ("none",), ("c",), ("d",)])
def test_no_offset_where_no_string_is(path: Path) -> None:
    with pytest.raises(KeyError):
        parsed_document('a = 1\nd = ["x"]\nc = 2027-04-01\n[t]\nb = { c = "x" }').string_offset(path, 0)


def test_numbers_keep_their_text() -> None:
    document = parsed_document("a = 1_000\nb = -21.60\nc = 0xFf\nd = true\ne = '1'\nf = [1e3]\ng = +nan\n[h]")
    texts = [document.number_text((name,)) for name in "abcdefgh"]
    assert texts == ["1_000", "-21.60", "0xFf", None, None, None, "+nan", None]
    assert document.number_text(("f", 0)) == "1e3"
    assert document.number_text(("z",)) is None
    assert str(document.values["b"]) == "-21.60"


def test_a_document_can_be_handed_to_another_process() -> None:
    document = parsed_document("a = 1\nb =\n", "wren.toml")
    again = pickle.loads(pickle.dumps(document))
    assert (again.name, again.values, again.problems, again.broken) == (
        "wren.toml",
        {"a": 1},
        document.problems,
        [("b",)],
    )
    assert again.problems[0].span == document.problems[0].span
    assert again.value_span(("a",)) == Span(4, 5)


AGAIN = """\
modes.calm.voice = "calm"
modes.calm.idle-up = false
[channels.motor.in.calm]
rate = 80
[channels . "motor"]
number = 2
in.wild.rate = 90
in . wild . expo = 20
[channels.pitch]
from = { a.b = 1, a.c = 2 }
[[claims]]
[[claims]]
[claims.about]
"""


@pytest.mark.parametrize(
    ("path", "columns"),
    [
        (("modes",), ["1:1", "2:1"]),
        (("modes", "calm"), ["1:7", "2:7"]),
        (("modes", "calm", "voice"), ["1:12"]),
        (("channels",), ["3:2", "5:2", "9:2"]),
        (("channels", "motor"), ["3:11", "5:13"]),
        (("channels", "motor", "in"), ["3:17", "7:1", "8:1"]),
        (("channels", "motor", "in", "calm"), ["3:20"]),
        (("channels", "motor", "in", "wild"), ["7:4", "8:6"]),
        (("channels", "pitch", "from", "a"), ["10:10", "10:19"]),
        (("claims",), ["11:3", "12:3", "13:2"]),
        (("claims", 0), ["11:3"]),
        (("nothing",), []),
        (("modes", "calm", "voice", "more"), []),
    ],
)
def test_a_key_that_is_written_more_than_once_has_all_its_places(path: Path, columns: list[str]) -> None:
    document = parsed_document(AGAIN)
    assert [":".join(map(str, document.position(span.start))) for span in document.key_spans(path)] == columns


def test_a_line_starts_where_its_number_says() -> None:
    document = parsed_document("a = 1\r\nb = 2\n")
    assert [document.line_start(line) for line in (1, 2, 3, 4)] == [0, 7, 13, 13]
