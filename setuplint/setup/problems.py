"""What is wrong with a file as a set-up, where, and what is lost by it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import islice
from typing import Any, NamedTuple

from setuplint.setup.model import Path
from setuplint.setup.texts import Texts

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


def word_list(words: Iterable[str], last: str = "or") -> str:
    found = list(islice(words, 13))
    if len(found) > 12:
        found[12] = "others"
    return f" {last} ".join(filter(None, (", ".join(found[:-1]), found[-1]))) if found else "none"


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
        if name in candidates:
            return name
        candidates = [n for n in candidates if abs(len(n) - len(name)) <= max(3, len(name) // 2)]
        if not candidates or len(name) > 60 or len(candidates) > self.left:
            return None
        self.left -= len(candidates)
        from difflib import get_close_matches

        found = get_close_matches(name, candidates, 1, 0.6 if len(name) < 5 else 0.7)
        return found[0] if found else None


class Notes:
    """The problems met so far, and what cannot be relied on because of them.

    `lost` holds the paths whose values are wrong or unknown, with all that stands above them; `broken` becomes
    `Setup.broken`. What the text itself lost (`Document.broken`) is in both.
    """

    def __init__(self, texts: Texts) -> None:
        self.texts = texts
        self.problems: list[SetupProblem] = []
        self.lost: set[Path] = set()
        self.broken: set[Path] = set()
        self.gone: frozenset[Path] = frozenset()  # under these, what is absent is unknown
        self.nearest = Nearest()
        self._seen: set[tuple[str, str, Path, bool, tuple[int, int] | None]] = set()

    def add(
        self,
        rule: str,
        path: Path,
        message: str,
        help: str,
        *,
        subject: str = "",
        key: bool = False,
        within: tuple[int, int] | None = None,
        related: tuple[tuple[Path, str], ...] = (),
        lose: bool = True,
        file: str = "",
    ) -> None:
        """Note a problem, once; with `lose`, the value at its path is not to be relied on."""
        mark = (rule, file, path, key, within)
        if mark not in self._seen:
            self._seen.add(mark)
            message, help, subject = printable(message), printable(help), printable(subject or dotted(path))
            others = tuple(RelatedPlace(*other) for other in related)
            self.problems.append(SetupProblem(rule, path, message, help, subject, key, within, others, file))
        if lose:
            self.lose(path)

    def lose(self, path: Path) -> None:
        self.lost.update(path[:n] for n in range(1, len(path) + 1))
        self.damage(path)

    def damage(self, path: Path) -> None:
        """Something in the part is wrong, though its values can be relied on."""
        self.broken.add(path)
        self.broken.update(path[:n] for n in range(2, len(path)))

    def absent_is_unknown(self, path: Path) -> bool:
        return bool(self.gone) and any(path[:n] in self.gone for n in range(len(path) + 1))

    def at(self, path: Path) -> Any:
        value: Any = self.texts.values
        for step in path:
            value = step_into(value, step)
        return value

    def seen(self, path: Path, value: Any) -> str:
        """A value in a message."""
        if isinstance(value, bool):
            return "true" if value else "false"
        if isinstance(value, str):
            return quoted(value) if value else "an empty text"
        if isinstance(value, Mapping):
            return "a table"
        if isinstance(value, list):
            return "a list" if value else "an empty list"
        return one_line(self.texts.holder(path).number_text(path) or str(value))
