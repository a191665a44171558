"""Texts from strangers: nothing is raised, and the work and what is told stay in proportion to the text."""

import random
import sys
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from setuplint.source import Document, Path, parsed_document
from setuplint.source.forms import MAX_DEPTH, MAX_PROBLEMS, MAX_SIZE

HOSTILE: dict[str, Callable[[int], str]] = {
    "blank lines": lambda n: "\n" * n,
    "carriage returns": lambda n: "\r" * n,
    "line ends of two characters": lambda n: "\r\n" * (n // 2),
    "comments": lambda n: "# x\n" * (n // 4),
    "one garbage line": lambda n: "x " * (n // 2),
    "garbage lines": lambda n: "%\n" * (n // 2),
    "words alone": lambda n: "x\n" * (n // 2),
    "control characters": lambda n: "\x01\n" * (n // 2),
    "control characters in comments": lambda n: "#\x01\n" * (n // 3),
    "equals signs": lambda n: "=" * n,
    "keys without values": lambda n: "x=\n" * (n // 3),
    "repeated keys": lambda n: "a=1\n" * (n // 4),
    "repeated headings": lambda n: "[a]\n" * (n // 4),
    "headings not closed": lambda n: "[a\n" * (n // 3),
    "lists of tables": lambda n: "[[a]]\n" * (n // 6),
    "open brackets": lambda n: "a=" + "[" * n,
    "open brackets on lines": lambda n: "a=" + "[\n" * (n // 2),
    "lists not closed": lambda n: "a=[1,\n" * (n // 6),
    "lists with blank lines not closed": lambda n: "a=[\n\n" * (n // 5),
    "lists with garbage": lambda n: "a=[%\n1,\n" * (n // 8),
    "a list of words": lambda n: "a=[" + "x," * (n // 2) + "]",
    "a list of words on lines": lambda n: "a=[" + "x,\n" * (n // 3) + "]",
    "commas": lambda n: "a=[" + "," * n + "]",
    "empty lists": lambda n: "a=[" + "[]," * (n // 3) + "]",
    "braces in braces": lambda n: "{a=" * (n // 3),
    "braces over lines": lambda n: "a={\n" * (n // 4),
    "braces after commas": lambda n: "a={b=1,\n" * (n // 8),
    "braces closed at last": lambda n: "a={b=1,\n" * (n // 8) + "}\n",
    "braces closed each": lambda n: "a={\n}\n" * (n // 6),
    "quotes": lambda n: "a=" + '"' * n,
    "single quotes": lambda n: "a=" + "'" * n,
    "strings not closed": lambda n: 'a="x\n' * (n // 5),
    "strings in lists not closed": lambda n: 'a=["x\n' * (n // 6),
    "long strings not closed": lambda n: 'a="""\n' * (n // 6),
    "long strings of both kinds": lambda n: "a='''\nb=\"\"\"\n[t]\n" * (n // 16),
    "a long string not closed": lambda n: 'a="""' + "x\n[t]\n" * (n // 6),
    "an escape after another": lambda n: 'a="' + "\\n" * (n // 2),
    "a bad escape after another": lambda n: 'a="' + "\\q" * (n // 2) + '"',
    "a dotted key": lambda n: "a" + ".a" * (n // 2) + "=1",
    "a dotted key with blanks": lambda n: "a" + " . a" * (n // 4) + "=1",
    "a dotted heading": lambda n: "[" + "a." * (n // 2) + "a]",
    "dots": lambda n: "." * n,
    "digits": lambda n: "a=" + "1" * n,
    "hexadecimal digits": lambda n: "a=0x" + "f" * n,
    "digits with underscores": lambda n: "a=" + "1_" * (n // 2),
    "decimals": lambda n: "a=1." + "1" * n,
    "an exponent": lambda n: "a=1e" + "9" * n,
    "a fraction of a second": lambda n: "a=18:30:00." + "1" * n,
    "one word": lambda n: "a=" + "x" * n,
    "other scripts": lambda n: "é=1\n" * (n // 4),
}


def _calls(text: str) -> tuple[int, Document]:
    """How many calls a reading takes, of Python's and of C functions."""
    count = 0

    def tick(frame: Any, event: str, argument: Any) -> None:
        nonlocal count
        count += 1

    sys.setprofile(tick)
    try:
        document = parsed_document(text)
    finally:
        sys.setprofile(None)
    return count, document


@pytest.mark.quick(2)
@pytest.mark.parametrize("name", HOSTILE)
def test_work_grows_with_the_text(name: str) -> None:
    parsed_document(HOSTILE[name](100))  # what is imported late is imported
    small, _ = _calls(HOSTILE[name](6_000))
    large, document = _calls(HOSTILE[name](24_000))
    assert large <= 6 * small + 1_000
    assert len(document.problems) <= MAX_PROBLEMS + 1
    # Where the searching is done in C, a call may take long: a square of this length would be felt.
    document = parsed_document(HOSTILE[name](150_000))
    assert len(document.problems) <= MAX_PROBLEMS + 1
    for problem in document.problems:
        assert len(problem.message) < 300
        assert len(problem.help) < 300


def test_the_cap_says_how_many_more() -> None:
    problems = parsed_document("x\n" * (MAX_PROBLEMS + 25)).problems
    assert len(problems) == MAX_PROBLEMS + 1
    assert problems[-1].message == "25 more problems follow."
    assert parsed_document("x\n" * (MAX_PROBLEMS + 1)).problems[-1].message == "One more problem follows."
    assert len(parsed_document("x\n" * MAX_PROBLEMS).problems) == MAX_PROBLEMS


@pytest.mark.parametrize(
    ("data", "position", "said"),
    [
        (b"a = 1\nb = '\xff'\n", (2, 6), "0xff"),
        (b"\xef\xbb\xbf\xc3", (1, 1), "0xc3"),
        ("é = 1\r\n".encode() + b"# \x80", (2, 3), "0x80"),
        ("a = 1".encode("utf-16"), (1, 1), "UTF-16"),
        ("a = 1".encode("utf-16-le"), (1, 2), "not a text file"),
        (b"\x7fELF\x01\x00\x00\x00" + bytes(range(128)) * 50, (1, 6), "not a text file"),
        (bytes(range(1, 256)) * 20 + b"\x00", (2, 118), "0x80"),
        ("a = 1\nb = '\ud800'", (2, 6), "half a character"),
        ("a\0b", (1, 2), "not a text file"),
        (b"a = 1\n" * MAX_SIZE, (1, 1), "6,000,000"),
        ("#" * (MAX_SIZE + 1), (1, 1), "1,000,001"),
        (b"a = [" + b"1, " * 3_500_000 + b"]", (1, 1), "longer"),
    ],
)
def test_no_text_gives_one_problem(data: bytes | str, position: tuple[int, int], said: str) -> None:
    document = parsed_document(data)
    assert len(document.problems) == 1
    assert said in document.problems[0].message
    assert document.position(document.problems[0].span.start) == position
    assert document.values == {}
    assert document.broken[0] == ()
    assert all(len(path) == 1 for path in document.broken[1:])


def test_nothing_at_all() -> None:
    for data in ("", b"", b"\xef\xbb\xbf", "\n\r\n", "  \t", "# only a comment"):
        document = parsed_document(data)
        assert (document.values, document.problems, document.broken) == ({}, [], [])


def test_the_name_is_kept() -> None:
    assert parsed_document("", "wren.toml").name == "wren.toml"
    assert parsed_document("").name == "<text>"


# Each nests as many tables and lists as it is told.
DEEP: dict[str, Callable[[int], str]] = {
    "lists": lambda n: "a = " + "[" * n + "]" * n,
    "braces": lambda n: "a = " + "{a=" * n + "1" + "}" * n,
    "dots": lambda n: "a." * n + "a = 1",
    "dots with blanks": lambda n: "a . " * n + "a = 1",
    "dots in braces": lambda n: "a = { " + "a." * (n - 1) + "a = 1 }",
    "dots round braces": lambda n: "a." * (n - 1) + "a = { a = 1 }",
    "heading": lambda n: "[" + "a." * (n - 1) + "a]",
    "heading with blanks": lambda n: "[ " + "a . " * (n - 1) + "a ]",
    "heading and dots": lambda n: "[" + "a." * (n - 3) + "a]\na.a.a = 1",
    "heading and list": lambda n: "[" + "a." * (n - 3) + "a]\na = [[1]]",
}


@pytest.mark.parametrize("name", DEEP)
def test_nesting_is_capped(name: str) -> None:
    assert parsed_document(DEEP[name](MAX_DEPTH)).problems == []
    document = parsed_document(DEEP[name](MAX_DEPTH + 1) + "\n[later]\nx = 1\n")
    assert [problem.message for problem in document.problems] == [f"This is nested more than {MAX_DEPTH} deep."]
    assert document.values["later"] == {"x": 1}
    assert document.broken


def test_ten_thousand_nested_lists() -> None:
    for text in ("a = " + "[" * 10_000 + "]" * 10_000, "a = " + "[\n" * 10_000 + "]\n" * 10_000):
        document = parsed_document(text + "\n[later]\nx = 1\n")
        assert len(document.problems) == 1
        assert document.values["later"] == {"x": 1}


def test_no_value_is_deeper_than_later_rooms_bear() -> None:
    heading = "[[" + ".".join("a" * MAX_DEPTH) + "]]\n"
    headings = "".join("[[" + ".".join("a" * length) + "]]\n" for length in range(1, MAX_DEPTH + 1)) + heading
    for text in (headings, headings + "x = [[1]]\n", headings + "x.y = { a.a = 1 }"):
        value: Any = parsed_document(text).values
        depth = 0
        while isinstance(value, dict | list) and value:
            value = next(iter(value.values())) if isinstance(value, dict) else value[-1]
            depth += 1
        assert MAX_DEPTH < depth <= 2 * MAX_DEPTH


def test_numbers_at_their_limits() -> None:
    document = parsed_document(
        "a = 1e999999999\nb = -1e-999999999\nc = " + "9" * 400 + "\nd = inf\ne = 0x" + "f" * 3_500
    )
    assert document.problems == []
    assert document.values["a"] > Decimal(150)
    assert -1 < document.values["b"] < 0
    assert document.values["c"] == 10**400 - 1
    assert document.values["d"] == Decimal("inf")
    assert document.values["e"] == 16**3_500 - 1
    assert parsed_document("a = 1e" + "9" * 30).values == {"a": Decimal("inf")}
    assert parsed_document("a = -1e-" + "9" * 30).values == {"a": 0}
    assert parsed_document("a = 0e" + "9" * 30).values == {"a": 0}


@pytest.mark.parametrize("number", ["9" * 4_301, "-" + "9" * 4_301, "1_" * 4_300 + "1", "0x" + "f" * 3_501])
def test_endless_whole_numbers(number: str) -> None:
    document = parsed_document(f"a = {number}\nb = 1")
    assert [problem.message for problem in document.problems] == ["This number is too long to be read."]
    assert document.values == {"b": 1}


def test_random_bytes_never_raise() -> None:
    chance = random.Random(8)
    for _ in range(2_000):
        length = chance.randint(0, 60)
        alphabet = chance.choice([bytes(range(256)), b"\"'[]{}=.,#\n\r\t a1-_\\u", b"\"\\\n'a= "])
        data = bytes(chance.choice(alphabet) for _ in range(length))
        document = parsed_document(data)
        assert document.problems or not document.broken
        for problem in document.problems:
            line, column = document.position(problem.span.start)
            assert line >= 1
            assert 1 <= column <= len(document.line_text(line)) + 2


def test_lost_paths_stay_few_and_true() -> None:
    lost: list[Path] = parsed_document("x\n" * 300 + "[a]\n" + "".join(f"k{index}\n" for index in range(300))).broken
    assert lost == [("x",), (), ("a",)]


def test_what_is_utf_16_is_shown_as_what_it_says() -> None:
    """A line of it is printed under the finding."""
    document = parsed_document("é = 1\n# b".encode("utf-16"))
    assert (document.text, document.values) == ("é = 1\n# b", {})
    assert parsed_document(b"\xff\xfe\x00").text == "\ufffd"
