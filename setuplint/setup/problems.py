"""A mistake of a file as a setup, and the words that messages about one are made of."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import islice

from setuplint.hints import Any
from setuplint.named_tuple import NamedTuple
from setuplint.setup.model import Path

LONGEST_TEXT = 400  # characters of a message
MOST_COMPARISONS = 20_000  # of names, in one file, for "did you mean": some tenths of a second


class RelatedPlace(NamedTuple):
    """Another place, and what it has to do with a problem; `file` as in `findings.Place`."""

    path: Path
    caption: str
    file: str = ""


class SetupProblem(NamedTuple):
    """One mistake of the file. `rule` is the rule that reports it; `subject` names what it is about."""

    rule: str
    path: Path
    message: str
    help: str
    subject: str
    key: bool = False  # point at the key, not at its value
    within: tuple[int, int] | None = None  # a part of the text at `path`: offsets in the decoded text
    related: tuple[RelatedPlace, ...] = ()
    file: str = ""  # the name of the text that is meant, where that is not the one that declares `path`


def dotted(path: Path) -> str:
    """A path as people write it: claims[0].never."""
    text = ""
    for step in path:
        text += f"[{step}]" if isinstance(step, int) else f".{one_line(step)}" if text else one_line(step)
    return text


def step_into(value: Any, step: str | int) -> Any:
    """A member of a table or list, None where there is none."""
    if isinstance(value, dict):
        return value.get(step)
    return value[step] if isinstance(value, list) and isinstance(step, int) and step < len(value) else None


def value_at(values: Any, path: Path) -> Any:
    """What is at a path, None where there is nothing."""
    for step in path:
        values = step_into(values, step)
    return values


def one_line(text: str) -> str:
    """Foreign text on one line of bounded length, without control characters."""
    text = " ".join(text[:200].split())
    if not text.isprintable():
        text = "".join(c if c.isprintable() else "?" for c in text)
    return text if len(text) <= 40 else text[:37] + "..."


def printable(text: str) -> str:
    """A whole message: names in it may be foreign."""
    if len(text) > LONGEST_TEXT:
        text = text[: LONGEST_TEXT - 3] + "..."
    return text if text.isprintable() else "".join(c if c.isprintable() else "?" for c in text)


def quoted(text: str) -> str:
    return f"“{one_line(text)}”"


def capitalised(words: str) -> str:
    return words[:1].upper() + words[1:]


def word_list(words: Iterable[str], last: str = "or") -> str:
    found = list(islice(words, 13))
    if len(found) > 12:
        found[12] = "others"
    return f" {last} ".join(filter(None, (", ".join(found[:-1]), found[-1]))) if found else "none"


# What the trade also calls it. Left out is what may be two things: pitch, tail, voltage, off; hold, the last output or none.
TRADE_WORDS = {
    "2-position": "two-position", "3-position": "three-position", "2-pos": "two-position", "3-pos": "three-position",
    "sprung": "momentary", "spring": "momentary", "throttle": "motor", "esc": "motor", "roll": "aileron", "yaw": "rudder",
    "gyro": "gyro-gain", "bec": "regulator", "linear": "none", "delay": "after",
}  # fmt: skip


class Nearest:
    """Finds the name that was meant, until it has compared enough names for one file."""

    def __init__(self, left: int = MOST_COMPARISONS) -> None:
        self.left = left

    def match(self, wrong: str, names: Iterable[str]) -> str | None:
        if self.left <= 0:
            return None
        candidates = list(names)
        self.left -= len(candidates) // 20
        name = "-".join(wrong.lower().replace("_", " ").replace("-", " ").split())
        for known in (name, TRADE_WORDS.get(name)):
            if known in candidates:
                return known
        candidates = [n for n in candidates if abs(len(n) - len(name)) <= max(3, len(name) // 2)]
        if not candidates or len(name) > 60 or len(candidates) > self.left:
            return None
        self.left -= len(candidates)
        from difflib import SequenceMatcher, get_close_matches

        def likeness(near: str) -> tuple[float, bool]:  # moter is as near to other as to motor, but for its beginning
            return SequenceMatcher(None, near, name).ratio(), near[0] == name[0]

        return max(get_close_matches(name, candidates, 3, 0.6 if len(name) < 5 else 0.7), key=likeness, default=None)
