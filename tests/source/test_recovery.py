"""One error costs its line: what stands before and after it is read, and every error is told."""

import re
from typing import Any

import pytest

from setuplint.source import Path, parsed_document

AFTER = """\
[overrides.held]
channel = "motor"
points = [[0, 1], [2, 3]]
in.idle-up = { curve = "flat", ramp-up = 2.0 }
[[claims]]
never = "a"
[[claims]]
never = "b"
"""
AFTER_VALUES = parsed_document(AFTER).values

# What is broken, in a table [craft] whose first line is sound; what else is read in it; the paths that are lost.
BROKEN: list[tuple[str, dict[str, Any], list[Path]]] = [
    ('name = "Wren\nkind = "x"', {"kind": "x"}, [("craft", "name")]),
    ("name = 'Wren\nkind = 'x'", {"kind": "x"}, [("craft", "name")]),
    ('name = """Wren\nmore', {}, [("craft", "name")]),
    ("name = '''Wren\n\nmore", {}, [("craft", "name")]),
    ('positions = ["off", "on"\nplace = "left"', {"place": "left"}, [("craft", "positions")]),
    ('positions = ["off", "on",\nplace = "left"', {"place": "left"}, [("craft", "positions")]),
    ('positions = ["off, "on"]\nplace = "left"', {"place": "left"}, [("craft", "positions")]),
    ("points = [[-100, -100], [0, 16]", {}, [("craft", "points")]),
    ("points = [[-100, -100], [0, 16\nsmoothing = 1", {"smoothing": 1}, [("craft", "points")]),
    ("points = [", {}, [("craft", "points")]),
    ("points = [\n  [0, 1],\n  [2 3],\n  [4],\n]\nsmoothing = 1", {"smoothing": 1}, [("craft", "points")]),
    ("level = { at-most = -50\nlift = 1", {"lift": 1}, [("craft", "level")]),
    ("level = { at-most = -50,\nlift = 1", {"lift": 1}, [("craft", "level")]),
    ("level = {\nlift = 1", {"lift": 1}, [("craft", "level")]),
    ("level = { at-most = }\nlift = 1", {"lift": 1}, [("craft", "level")]),
    ("level = { at-most }\nlift = 1", {"lift": 1}, [("craft", "level")]),
    ("level = { a = { b = [1, { c = 2\nlift = 1", {"lift": 1}, [("craft", "level")]),
    ("level = { a = 1, a = 2 }\nlift = 1", {"level": {}, "lift": 1}, [("craft", "level")]),
    ("level = { a = 1, }\nlift = 1", {"level": {"a": 1}, "lift": 1}, [("craft", "level")]),
    ("level = {\n  a = 1,\n  b = [2],\n}\nlift = 1", {"level": {"a": 1, "b": [2]}, "lift": 1}, [("craft", "level")]),
    ("name =\nkind = 1", {"kind": 1}, [("craft", "name")]),
    ("name = # nothing\nkind = 1", {"kind": 1}, [("craft", "name")]),
    ("name\nkind = 1", {"kind": 1}, [("craft", "name")]),
    ('name "Wren"\nkind = 1', {"kind": 1}, [("craft", "name")]),
    ("name = Wren\nkind = 1", {"kind": 1}, [("craft", "name")]),
    ("name = “Wren”\nkind = 1", {"kind": 1}, [("craft", "name")]),
    ('name = "W\\yen \\x"\nkind = 1', {"kind": 1}, [("craft", "name")]),
    ("motor-off = 1,5\nkind = 1", {"kind": 1}, [("craft", "motor-off")]),
    ("motor-off = 21.6V\nkind = 1", {"kind": 1}, [("craft", "motor-off")]),
    ("motor-off = 1 2\nkind = 1", {"kind": 1}, [("craft", "motor-off")]),
    ("motor-off = 2027-02-30\nkind = 1", {"kind": 1}, [("craft", "motor-off")]),
    ("%&$ garbage\nkind = 1", {"kind": 1}, [("craft",)]),
    ("= 1\nkind = 1", {"kind": 1}, [("craft",)]),
    ("a. = 1\nkind = 1", {"kind": 1}, [("craft", "a")]),
    ("größe = 1\nkind = 1", {"kind": 1}, [("craft", "gr")]),
    ('"a = 1\nkind = 1', {"kind": 1}, [("craft",)]),
    ("first = 2\nkind = 1", {"kind": 1}, [("craft", "first")]),
    ("first.x = 2\nkind = 1", {"kind": 1}, [("craft", "first", "x")]),
    ("kind = 1 # \x07", {"kind": 1}, []),
    ("# \x07\nkind = 1", {"kind": 1}, []),
    ("points = [1, 2 # \x07\n]\nkind = 1", {"kind": 1}, [("craft", "points")]),
    ("points = [1, x, 3]\nkind = 1", {"kind": 1}, [("craft", "points")]),
    ("points = [1,, 3]\nkind = 1", {"kind": 1}, [("craft", "points")]),
    ("points = [1] ]\nkind = 1", {"kind": 1}, [("craft", "points")]),
    ("kind = 1\rnext = 2", {}, [("craft", "kind")]),
]


TWICE = ('name = "W\\yen \\x"\nkind = 1', "level = {\n  a = 1,\n  b = [2],\n}\nlift = 1")


@pytest.mark.parametrize(("broken", "kept", "lost"), BROKEN, ids=[case[0] for case in BROKEN])
@pytest.mark.parametrize("ends", ["\n", "\r\n"])
def test_later_tables_survive(broken: str, kept: dict[str, Any], lost: list[Path], ends: str) -> None:
    before = "[craft]\nfirst = 1\n"
    document = parsed_document(f"{before}{broken}\n".replace("\n", ends) + AFTER)
    first = {} if lost == [("craft", "first")] else {"first": 1}  # of a key given twice neither value is certain
    assert document.values == {"craft": {**first, **kept}, **AFTER_VALUES}
    assert document.broken == lost
    assert document.problems
    for problem in document.problems:
        assert len(before) <= problem.span.start < len(document.text) - len(AFTER)
    assert len(document.problems) == (2 if broken in TWICE else 1)


HEADINGS: list[tuple[str, dict[str, Any], list[Path]]] = [
    ("[modes.normal\nvoice = 1", {"modes": {"normal": {"voice": 1}}}, [("modes", "normal")]),
    ("[[modes]\nvoice = 1", {"modes": [{"voice": 1}]}, [("modes",)]),
    ("modes.normal]\nvoice = 1", {"modes": {"normal": {"voice": 1}}}, [("modes", "normal")]),
    ("modes]] # first\nvoice = 1", {"modes": [{"voice": 1}]}, [("modes",)]),
    ("[modes.]\nvoice = 1", {}, [("modes",)]),
    ("[]\nvoice = 1", {}, [()]),
    ("[\nvoice = 1", {}, [()]),
    ("[two words]\nvoice = 1", {}, [("two",)]),
    ('["modes]\nvoice = 1', {}, [()]),
    ("[first]\nvoice = 1", {}, [("first",)]),
    ("[first.second]\nvoice = 1", {}, [("first",)]),
    ("[[first]]\nvoice = 1", {}, [("first",)]),
    ("[modes]\na = 1\n[modes]\na = 2", {"modes": {"a": 1}}, [("modes",)]),
    ("[modes]\n[[modes]]\na = 2", {"modes": {}}, [("modes",)]),
    ("[[modes]]\n[modes]\na = 2", {"modes": [{}]}, [("modes",)]),
    ("[modes] x\na = 2", {"modes": {"a": 2}}, [("modes",)]),
    ("[modes] # \x07\na = 2", {"modes": {"a": 2}}, []),
    ("[modes]]\na = 2", {"modes": {"a": 2}}, [("modes",)]),
    ("[modes]\nx.y = 1\n[modes.x]\na = 2", {"modes": {"x": {"y": 1}}}, [("modes", "x")]),
    ("[m.x.y]\n[m]\nx.z = 1\n[m.x]\na = 2", {"m": {"x": {"y": {}, "z": 1}}}, [("m", "x")]),
    ("[modes.x]\n[modes]\nx.y = 1", {"modes": {"x": {}}}, [("modes", "x", "y")]),
]


@pytest.mark.parametrize(("broken", "kept", "lost"), HEADINGS, ids=[case[0] for case in HEADINGS])
def test_broken_headings(broken: str, kept: dict[str, Any], lost: list[Path]) -> None:
    """Keys under a heading that cannot be read are never taken for another table's."""
    document = parsed_document(f"first = 1\n{broken}\n{AFTER}")
    assert document.values == {"first": 1, **kept, **AFTER_VALUES}
    assert document.broken == lost
    assert len(document.problems) == 1
    assert document.problems[0].span.start >= len("first = 1\n")


def test_every_error_is_told() -> None:
    lines = [
        "a = ", "b = x", 'c = "open', "d 1", "e = [1, 2", "f = { g = 1", "h = 05", "e2 = [x, 01, 1.]", "a.b.c", "[t",
        "i = .5", "[t.u]", "j = 1 2", "k = 1", "k = 2", "[t.u]", "l = 07:60:00",
    ]  # fmt: skip
    document = parsed_document("\n".join(lines))
    told = [document.position(problem.span.start)[0] for problem in document.problems]
    assert told == [1, 2, 3, 4, 5, 6, 7, 8, 8, 8, 9, 10, 11, 13, 15, 16, 17]
    assert document.values == {"t": {"u": {}}}


def test_errors_under_a_refused_heading_are_told() -> None:
    document = parsed_document("[a]\nx = 1\n[a]\ny = \nz = 2\nz = 3\n[b]\nw = 4\n")
    assert [document.position(problem.span.start) for problem in document.problems] == [(3, 2), (4, 3), (6, 1)]
    assert document.values == {"a": {"x": 1}, "b": {"w": 4}}
    assert document.broken == [("a",), ("a", "y"), ("a", "z")]


def test_lines_under_a_heading_that_cannot_be_read_are_lost_with_it() -> None:
    document = parsed_document("a =\n[modes.]\nx =\ny = 1\n[b]\nz =")
    assert document.broken == [("a",), ("modes",), ("modes", "x"), ("b", "z")]
    assert document.values == {"b": {}}


def test_lists_given_up_do_not_nest() -> None:
    assert parsed_document("k = [1\n" * 120 + "ok = [[1]]\n").values == {"ok": [[1]]}


def test_lists_of_tables_keep_their_number_in_the_lost_path() -> None:
    assert parsed_document("[[claims]]\n[[claims]]\nnever =\n[claims.x]\ny").broken == [
        ("claims", 1, "never"),
        ("claims", 1, "x", "y"),
    ]


@pytest.mark.parametrize(
    ("text", "said", "hint"),
    [
        ("a = momentary", "`momentary` is not a value.", '"momentary"'),
        ("a = True", "lower case", "true"),
        ("a = 21.6V", "not a number", "without a unit"),
        ("a = 1,5", "a point, not a comma", "21.6"),
        ("a = .5", "lacks a digit", "0.5"),
        ("a = 007", "a zero too many", "leading zeros"),
        ("a = 2027-02-30", "not a date", "2027-04-01"),
        ("a = 1__0", "not a number", "underscore"),
        ("a = “x”", "not a quote that TOML knows", "straight quotes"),
        ('a = "c:\\dir"', "not an escape", "single quotes"),
        ("a = 1\na = 2", "already given, on line 1", "Keep one"),
        ("[a]\n\n[a]", "already given, on line 1", "another name"),
        ("[[a]]\n[a]", "a list of tables since line 1", "[[a]]"),
        ("a = 1\n[a]", "already has a value, on line 1", "once"),
        ("größe = 1", "`größe` has a character that needs quotes", "double quotes"),
        ("a = {\nb = 1\n}", "must stand on one line", "Join"),
        ("a = 1\rb = 2", "carriage return stands alone", "line feed"),
        ("a = \x01", "U+0001", "Delete"),
    ],
)
def test_what_is_said(text: str, said: str, hint: str) -> None:
    problems = parsed_document(text).problems
    assert len(problems) == 1
    assert said in problems[0].message
    assert hint in problems[0].help


def test_problems_compare_as_tuples() -> None:
    span, message, help = parsed_document("a =").problems[0]
    assert (span.start, span.end) == span == (2, 3)
    assert message.count("=") == 1
    assert help


@pytest.mark.parametrize(
    ("line", "meant"),
    [
        ("priority = 1OO", "100"),
        ("value = -lO.5", "-10.5"),
        ("cells = 6S", ""),
        ("after = 1.5s", ""),
        ("priority = 1S", ""),
        ("priority = 1Ov", ""),
        ("angle = 30o", ""),
        ("capacity = 2.6Ah", ""),
        ("value = OO", ""),
        ("value = 2B", ""),
    ],
)
def test_letters_that_look_like_digits_never_make_a_number_smaller(line: str, meant: str) -> None:
    """They are read as digits, or no number is proposed."""
    (problem,) = parsed_document(line).problems
    proposed = re.findall(r"Did you mean (-?\d+(?:\.\d+)?)\?", problem.help)
    assert proposed == ([meant] if meant else [])


@pytest.mark.parametrize(
    ("line", "help"),
    [
        ("priority: 100  # high", "Write `priority = 100`."),
        ("drives : motor", 'Write `drives = "motor"`.'),
        ("in.normal.expo: true", "Write `in.normal.expo = true`."),
        ("points: [[0, 1]]", "Write `points = [[0, 1]]`."),
        ('name: "a # b"  # c', 'Write `name = "a # b"`.'),
        ("when: throttle > 5", 'Write `when = "throttle > 5"`.'),
        ("priority:", "Write `name = value`."),
        ("priority: 1,5", "Write `name = value`."),
        ("points: [[0, 1], [2", "Write `name = value`."),
        ('voice: it is "on"', "Write `name = value`."),
        (f"voice: {'a' * 41}", "Write `name = value`."),
        ("level = { at-least: 50 }", "Write `name = value`."),
    ],
)
def test_a_colon_is_told_with_what_to_write(line: str, help: str) -> None:
    (problem,) = parsed_document(f"[a]\n{line}\nb = 1\n").problems
    assert problem.help == help
