"""The texts that one set-up is made of: its own, and those of the shared parts that it extends."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from setuplint.hints import Any
from setuplint.setup.model import Path
from setuplint.setup.problems import SetupProblem
from setuplint.setup.setup_texts import TOP_KEYS
from setuplint.source import Document

MAY_BE_SHARED = ("sticks", "knobs", "switches", "sensors", "modes")  # the tables that a shared part may hold


class Texts:
    """One set of values, of which every path knows the text it stands in.

    `values` are those of all texts together. A path says where to look: `holder` is the document that declares it, and
    spans of that path are places in that document's text, in no other.
    """

    __slots__ = ("_holders", "disputed", "is_shared_file", "open", "own", "problems", "shared", "values")

    def __init__(
        self,
        own: Document,
        shared: Sequence[Document] = (),
        values: Mapping[str, Any] | None = None,
        holders: Mapping[Path, Document] | None = None,
        problems: Iterable[SetupProblem] = (),
        open: Iterable[str] = (),
        disputed: Iterable[Path] = (),
        *,
        is_shared_file: bool = False,
    ) -> None:
        """`holders` has, for each table and each named part that only shared texts declare, the nearest of them; `problems`
        is what is wrong with the shared parts, `open` the kinds of which there may be names that were not read, `disputed` what
        two texts say differently. `is_shared_file`: it is a shared part itself, and no set-up."""
        self.own = own
        self.shared = tuple(shared)
        self.values: dict[str, Any] = own.values if values is None else dict(values)
        self._holders = holders or {}
        self.problems = tuple(problems)
        self.open = frozenset(open)
        self.disputed = frozenset(disputed)
        self.is_shared_file = is_shared_file

    @property
    def name(self) -> str:
        return self.own.name

    @property
    def is_unread(self) -> bool:
        """Whether nothing in it is read: it is empty, broken all through, somebody else's, or in a format that is not known."""
        return not self.values.keys() & TOP_KEYS or not self.has_known_format

    @property
    def has_known_format(self) -> bool:
        """Whether it says no version of the format but this one."""
        version = self.values.get("format", 1)
        return type(version) is int and version == 1

    def __iter__(self) -> Iterator[Document]:
        """The set-up's own text first, then each shared part before those that it extends itself."""
        yield self.own
        yield from self.shared

    def is_shared(self, path: Path) -> bool:
        """Whether a part (or table) stands in a shared text, and not in the set-up's own."""
        return path[:2] in self._holders

    @property
    def brought(self) -> frozenset[Path]:
        """The named parts that shared texts bring: ("switches", "hold")."""
        return frozenset(path for path in self._holders if len(path) == 2)

    def holder(self, path: Path, file: str = "") -> Document:
        """The document in whose text a path stands; with `file`, the one of that name."""
        if file:
            return next((each for each in self if each.name == file), self.own)
        return self._holders.get(path[:2], self.own)

    def order(self, document: Document) -> int:
        """0 for the set-up's own text, then the shared ones in their order."""
        return next(n for n, each in enumerate(self) if each is document)
