"""A text of an editor as parsed, and the folder that its shared files are read from."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from functools import cached_property
from typing import TYPE_CHECKING, Any, TypeVar

from setuplint.server import occurrences
from setuplint.server.occurrences import Occurrence
from setuplint.setup import Built, SetupProblem, built_setup, loaded_texts
from setuplint.setup.file_sources import Folder
from setuplint.setup.model import Setup
from setuplint.setup.setup_texts import LARGEST, is_begun, is_setup, is_setup_text
from setuplint.source import Document
from setuplint.source.kept_tables import KeptTables

if TYPE_CHECKING:
    from setuplint.engine.decider import Decider

Result = TypeVar("Result")


class Buffers(Folder):
    """The folder of a file, in which the texts that are open in the editor replace those on the disk. `open_texts` are by real
    path; `extended` remembers which files others extend, as that takes a walk through the repository."""

    def __init__(self, path: str, open_texts: Mapping[str, str], name: str, extended: dict[str, bool]) -> None:
        super().__init__(path, name)
        self.open_texts, self.extended = open_texts, extended

    def with_texts(self, texts: Mapping[str, str]) -> Buffers:
        """The same folder with other texts open."""
        return Buffers(self.path, {**self.open_texts, **texts}, self._name, self.extended)

    def read(self, path: str, most: int) -> bytes:
        data = super().read(path, most)
        text = self.open_texts.get(self.place(path))
        return data if text is None else text.encode(errors="surrogatepass")[: most + 1]

    def is_extended(self) -> bool:
        if self.path not in self.extended:
            self.extended[self.path] = super().is_extended()
        return self.extended[self.path]


class Content:
    """All values of a text in their order."""

    __slots__ = ("values",)

    def __init__(self, values: Mapping[str, Any]) -> None:
        self.values = values

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Content) and _is_same(self.values, other.values)

    def __hash__(self) -> int:
        raise TypeError("contents are compared, and looked up nowhere")


def _is_same(one: Any, other: Any) -> bool:
    """Whether two values are written alike; tables that were kept are one object."""
    if one is other:
        return True
    if isinstance(one, dict) and isinstance(other, dict):
        return list(one) == list(other) and all(map(_is_same, one.values(), other.values()))
    return repr(one) == repr(other)


class ParsedText:
    """A text as parsed. What takes longer is worked out when it is asked for, and kept."""

    def __init__(
        self,
        text: str | bytes,
        name: str,
        version: int | None = None,
        folder: Buffers | None = None,
        before: ParsedText | None = None,
    ) -> None:
        """`before`: another version of the text, of which no table that is the same is read again."""
        self.version, self.folder = version, folder
        self.texts = loaded_texts(text, name, folder, KeptTables(None if before is None else before.own.kept))
        self._built: Built | None = None
        self.text = text if isinstance(text, str) else self.own.text
        self._kept: dict[object, Any] = {}

    def kept(self, make: Callable[..., Result], *given: Hashable) -> Result:
        """What a function makes of it and of what else is given, made once."""
        key = (make, *given)
        if key not in self._kept:
            self._kept[key] = make(self, *given)
        found: Result = self._kept[key]
        return found

    @property
    def setup(self) -> Setup:
        return self._meaning().setup

    @property
    def problems(self) -> tuple[SetupProblem, ...]:
        """What is wrong with it as a setup."""
        return self._meaning().problems

    def _meaning(self) -> Built:
        """What takes longest of reading a text: of one in which a line is unfinished nobody asks for it at once."""
        if self._built is None:
            self._built = built_setup(self.texts)
        return self._built

    def says_the_same_as(self, other: ParsedText) -> bool:
        """Whether it has the same values as one that could be read throughout. What that means it takes over, then."""
        if self.content != other.content or self.is_faulty or self.texts.problems:
            return False
        if self._built is None and not self.texts.shared and not other.texts.shared:
            self._built = other._meaning()
        return True

    @property
    def is_faulty(self) -> bool:
        """Whether there are mistakes in the TOML of one of its texts."""
        return any(document.problems for document in self.texts)

    @property
    def own(self) -> Document:
        """The file's own text, without shared files."""
        return self.texts.own

    @property
    def is_readable(self) -> bool:
        """Whether all of it could be read."""
        return not self.is_faulty and not self.problems

    @property
    def problem_count(self) -> int:
        """How many mistakes keep it from being read."""
        return len(self.problems) + sum(len(document.problems) for document in self.texts)

    @cached_property
    def is_setup(self) -> bool:
        """Whether it is a setup, or a shared part of some, as in a folder that is linted."""
        if len(self.text) > LARGEST:
            return is_setup_text(self.text.encode(errors="replace"))
        return is_setup(self.own.values, self.own.broken) or self.texts.is_shared_file

    @property
    def is_begun(self) -> bool:
        """Whether it is a setup, or may become one."""
        return self.is_setup or is_begun(self.own.values, self.own.broken)

    @property
    def content(self) -> Content:
        """What it says: texts that differ in comments and layout only have the same."""
        return Content(self.texts.values)

    @cached_property
    def occurrences(self) -> list[Occurrence]:
        """Every name in its texts."""
        return occurrences.occurrences(self.texts)

    def occurrence_at(self, offset: int) -> Occurrence | None:
        """The name that an offset of its own text is in, or just after."""
        own = self.own
        found = [
            each for each in self.occurrences if each.document is own and each.span.start <= offset <= each.span.end
        ]
        return min(found, key=lambda each: (each.span.end - each.span.start, -each.span.start), default=None)

    @cached_property
    def decider(self) -> Decider:
        """Answers the questions of hovers and lenses, which no rule asks."""
        from setuplint.engine.decider import Decider

        return Decider(self.setup)
