"""The mistakes met while a file is read as a setup, and what cannot be relied on because of them."""

from __future__ import annotations

from collections.abc import Mapping

from setuplint.hints import Any
from setuplint.setup.model import Path
from setuplint.setup.problems import Nearest, RelatedPlace, SetupProblem, dotted, one_line, printable, quoted, value_at
from setuplint.setup.texts import Texts


class Notes:
    """`problems` are those met so far.

    `lost` holds the paths whose values are wrong or unknown, with all that stands above them; `broken` becomes
    `Setup.broken`. What the text itself lost (`Document.broken`) is in both.
    """

    def __init__(self, texts: Texts) -> None:
        self.texts = texts
        self.problems: list[SetupProblem] = []
        self.lost: set[Path] = set()
        self.broken: set[Path] = set()
        self.gone: frozenset[Path] = frozenset()  # under these, what is absent is unknown
        self.misnamed: dict[Path, str] = {}  # parts as they are written: the names that are meant
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

    def extent(self) -> tuple[int, int, int, int]:
        """The same while nothing more is noted."""
        return len(self.problems), len(self.lost), len(self.broken), self.nearest.left

    def lose(self, path: Path) -> None:
        self.lost.update(path[:n] for n in range(1, len(path) + 1))
        self.damage(path)

    def damage(self, path: Path) -> None:
        """Something in the part is wrong, though its values can be relied on."""
        self.broken.add(path)
        self.broken.update(path[:n] for n in range(2, len(path)))

    def all_broken(self) -> frozenset[Path]:
        """What is broken, by the names that are meant as well."""
        meant = [
            (path[0], self.misnamed[path[:2]], *path[2:])
            for path in (self.broken if self.misnamed else ())
            if path[:2] in self.misnamed
        ]
        return frozenset(self.broken.union(meant))

    def absent_is_unknown(self, path: Path) -> bool:
        return bool(self.gone) and any(path[:n] in self.gone for n in range(len(path) + 1))

    def value_at(self, path: Path) -> Any:
        return value_at(self.texts.values, path)

    def value_text(self, path: Path, value: Any) -> str:
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
