"""Texts made broken: each way takes a text and a source of chance, and spoils one thing of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from random import Random

Way = Callable[[str, Random], str]
VALUES = ("3", "-7.5", "1e9", '"word"', "'x'", "true", "[]", "{}", "[[1, 2], 3]", "{ a = 1 }", "2027-04-01", "18:30:00", "inf",
          "nan", "0x1F", '""', '"not (("', '"pack < 1"', "[1, 'a']", "9" * 400, "0." + "1" * 300, "1e999999999")  # fmt: skip
SIGNS = ("\0", "\x07", "\x7f", "\ufeff", "\u202e", "\u2028", "\u0301", "\U0001f681", "é", "ſ", "İ", "\ud800", "\u200b",
         "\\u0000", "\\ud800", "\\U0010ffff", "\\x41", "\\", '"', "'", '"""', "'''",
         "[", "]", "{", "}", "[[", "=", ".", "\r")  # fmt: skip
OPEN = ("[", "[[", "{", "x = [", "x = {", 'x = "', 'x = """', "x = '''", "[a.b.", "x = [{ a = [")


def cut(text: str, chance: Random) -> str:
    return text[: chance.randrange(len(text) + 1)]


def lost(text: str, chance: Random) -> str:
    at, length = chance.randrange(len(text) + 1), chance.choice((1, 1, 3, 30, 300))
    return text[:at] + text[at + length :]


def doubled(text: str, chance: Random) -> str:
    at, length = chance.randrange(len(text) + 1), chance.choice((1, 5, 80, 2_000))
    return text[: at + length] + text[at:]


def signed(text: str, chance: Random) -> str:
    at = chance.randrange(len(text) + 1)
    return text[:at] + chance.choice(SIGNS) * chance.choice((1, 1, 1, 40)) + text[at:]


def left_open(text: str, chance: Random) -> str:
    lines = text.split("\n")
    lines.insert(chance.randrange(len(lines) + 1), chance.choice(OPEN))
    return "\n".join(lines)


def mistyped(text: str, chance: Random) -> str:
    """One key's value is another's, or none that fits."""
    lines = text.split("\n")
    keyed = [n for n, line in enumerate(lines) if " = " in line]
    for n in chance.sample(keyed, min(len(keyed), chance.choice((1, 1, 2, 5)))):
        other = lines[chance.choice(keyed)].split(" = ", 1)[-1].split(" #")[0]
        lines[n] = f"{lines[n].split(' = ', 1)[0]} = {chance.choice((other, *VALUES))}"
    return "\n".join(lines)


def repeated(text: str, chance: Random) -> str:
    """A line twice, or somewhere else as well: keys, tables, parts of tables."""
    lines = text.split("\n")
    lines.insert(chance.randrange(len(lines) + 1), chance.choice(lines))
    return "\n".join(lines)


def deep(text: str, chance: Random) -> str:
    count = chance.choice((60, 1_000, 20_000))
    opened, closed = chance.choice((("[", "]"), ("{ a = ", " }"), ("a.", ""), ("(", ")"), ("not ", "")))
    core = f"{opened * count}1{closed * chance.choice((0, count))}"
    return f"{text}\n" + chance.choice(
        (f"x = {core}", f"[{core}]", f'[conditions.deep]\nwhen = "{core}"', f"{core} = 1")
    )


def long_line(text: str, chance: Random) -> str:
    word = chance.choice(("a", "a.", "a = 1, ", "'", "\\n", "1_", "hold is on and ", "# "))
    line = word * chance.choice((500, 20_000))
    return f"{text}\n" + chance.choice(
        ("{}", "x = {}", 'x = "{}"', "[{}]", '[alarms.long]\nwhen = "{}"', "# {}")
    ).format(line)


def renamed(text: str, chance: Random) -> str:
    """Every use of one word becomes another word of the text."""
    words = sorted({word for word in text.replace("=", " ").replace('"', " ").split() if word.isalpha()})
    old, new = chance.sample(words, 2) if len(words) > 1 else ("a", "b")
    return text.replace(old, new, chance.choice((1, 1, 3, 10_000)))


WAYS: tuple[Way, ...] = (cut, lost, doubled, signed, left_open, mistyped, mistyped, repeated, deep, long_line, renamed)


def damaged(text: str, chance: Random) -> bytes:
    """A text spoilt in a few ways, as bytes that need not be text any more."""
    for _ in range(chance.choice((1, 1, 1, 2, 4))):
        text = chance.choice(WAYS)(text, chance)
    data = text.encode("utf-8", "surrogatepass")
    if chance.random() < 0.05:
        data = chance.choice(
            (data.decode("utf-8", "replace").encode("utf-16"), data[:50] + b"\xff\xfe\x80" + data[50:])
        )
    return data


def every_way(text: str, seed: int) -> Iterator[bytes]:
    """The text spoilt once in each way."""
    yield from (way(text, Random(seed + n)).encode("utf-8", "surrogatepass") for n, way in enumerate(WAYS))
