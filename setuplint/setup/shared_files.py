"""Shared parts: what `extends` brings to a set-up, from one file or from several that extend each other in a row."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from setuplint.setup.file_sources import LARGEST, FileSource, Refused, relative_path
from setuplint.setup.model import Path
from setuplint.setup.problems import RelatedPlace, SetupProblem, dotted, one_line, printable, value_at, word_list
from setuplint.setup.shape import whole_file
from setuplint.setup.texts import MAY_BE_SHARED, Texts
from setuplint.source import Document, parsed_document

DEEPEST = 8  # files in a row
PATH: Path = ("extends",)
FORMAT: Path = ("format",)
MOST_RELATED = 7
ONE = {"sticks": "stick", "knobs": "knob", "switches": "switch", "sensors": "sensor", "modes": "mode"}


def is_shared_file(document: Document) -> bool:
    """Whether a text has something that can be shared, and nothing else but its format and what it extends."""
    top = {*document.values, *(path[0] for path in document.broken if path)}
    return bool(top - {"format"}) and top <= {*MAY_BE_SHARED, "format", "extends"}


def texts_of_shared_file(texts: Texts) -> Texts:
    """A shared part read for its own mistakes: what it names may stand in the set-ups that extend it."""
    values = {"format": 1, **texts.values}
    holders = {path: texts.holder(path) for path in texts.brought}
    return Texts(texts.own, texts.shared, values, holders, texts.problems, {*ONE, "conditions"}, is_shared_file=True)


def texts_with_shared_files(own: Document, beside: FileSource | None) -> Texts:
    """A set-up's text with those of its shared parts. Whatever cannot be read, or does not go together, is among the
    `problems` of what is given."""
    if "extends" not in own.values:
        return Texts(own)
    joining = _Joining(own, beside)
    joining.read()
    return joining.texts()


class _Joining:
    def __init__(self, own: Document, beside: FileSource | None) -> None:
        self.own, self.beside = own, beside
        self.chain: list[Document] = []
        self.problems: list[SetupProblem] = []
        self.open: set[str] = set()  # kinds of which names may be missing
        self.disputed: set[Path] = set()  # of which two files say different things

    def read(self) -> None:
        """The chain of shared parts, as far as it can be followed; where it breaks, any name may be missing."""
        last = self.own
        try:
            for document in self.documents():
                self.chain.append(document)
                last = document
        except Refused as refused:
            self.open.update(MAY_BE_SHARED)
            if last is not self.own or isinstance(last.values["extends"], str):  # else said with all other types
                self.note(refused.message, refused.help, PATH, last)

    def documents(self) -> Iterator[Document]:
        """Each file that is extended, after the one that extends it."""
        beside, document, left = self.beside, self.own, LARGEST
        path = beside.own if beside else ""
        way = [beside.place(path)] if beside else []
        while "extends" in document.values:
            path = relative_path(document.values["extends"], path)
            if beside is None:
                raise Refused("this text was given without the folder that it lies in", "give the file itself")
            if beside.place(path) in way:
                names = [self.own.name, *(each.name for each in self.chain)][way.index(beside.place(path)) :]
                loop = " → ".join(map(one_line, [*names, names[0]]))
                raise Refused(f"these files extend each other in a loop: {loop}", "take one extends out")
            if len(way) > DEEPEST:
                raise Refused(f"more than {DEEPEST} files extend each other in a row", "put some of them together")
            data = beside.read(path, left)
            left -= len(data)
            if left < 0:
                message = f"with {one_line(beside.name(path))} the shared parts have more than {LARGEST:,} bytes"
                raise Refused(f"{message}: it is not read", "name a file with shared parts: they are far smaller")
            document = parsed_document(data, beside.name(path))
            way.append(beside.place(path))
            yield document

    def texts(self) -> Texts:
        """All values together, the set-up's own first wherever a name stands twice."""
        values = dict(self.own.values)
        holders: dict[Path, Document] = {}
        brought: dict[str, list[dict[str, Any]]] = {kind: [] for kind in MAY_BE_SHARED}
        declared: dict[Path, Document] = {
            (kind, name): self.own for kind in MAY_BE_SHARED for name in _names(self.own, kind)
        }
        for document in self.chain:
            if self.wrong_format(document):
                continue
            self.strange(document)
            for key, value in document.values.items():
                if key in MAY_BE_SHARED:
                    brought[key].append(self.brings(document, key, value, declared))
                    if key not in self.own.values:
                        holders.setdefault((key,), document)
                elif key not in whole_file()["keys"] and key not in values:  # a word misspelt is told as any other
                    values[key] = value
                    holders[(key,)] = document
        for kind, groups in brought.items():
            own = values.get(kind, {})
            if groups and isinstance(own, dict):  # modes are asked in their order: the farthest file's come first
                values[kind] = {name: part for group in [*reversed(groups), own] for name, part in group.items()}
        holders |= {path: document for path, document in declared.items() if document is not self.own}
        return Texts(self.own, self.chain, values, holders, self.problems, self.open, self.disputed)

    def wrong_format(self, document: Document) -> bool:
        """Whether a shared part says that it is in a format that is not known: then nothing of it is taken."""
        version = document.values.get("format", 1)
        if type(version) is int and version == 1:
            return False
        self.note(
            "this shared part is in another format, and only format 1 is known", "write format = 1", FORMAT, document
        )
        self.open.update(MAY_BE_SHARED)
        return True

    def strange(self, document: Document) -> None:
        """What a shared part cannot hold is one finding, and is passed over."""
        fields = whole_file()["keys"]
        keys = [key for key in document.values if key in fields and key not in (*MAY_BE_SHARED, "format", "extends")]
        if keys:
            help = f"what is shared are {word_list(MAY_BE_SHARED, 'and')}: write the rest into the setups themselves"
            if "waivers" in keys:
                help += "; a waiver belongs in the setup whose finding it accepts"
            message = f"this file is extended as a shared part, and {word_list(keys, 'and')} cannot be shared"
            self.note(message, help, (keys[0],), document, key=True, subject=", ".join(keys), others=keys[1:])

    def brings(self, document: Document, kind: str, value: Any, declared: dict[Path, Document]) -> dict[str, Any]:
        """The parts of a kind that no nearer file declares."""
        if not isinstance(value, dict):
            self.note(f"{kind} must be tables, each with a name", f"write [{kind}.NAME]", (kind,), document)
            self.open.add(kind)
            return {}
        found = {}
        for name in dict.fromkeys([*value, *_names(document, kind)]):
            path: Path = (kind, name)
            if path in declared:
                self.clash(path, declared[path], document)
                continue
            declared[path] = document
            if name in value:
                found[name] = value[name]
        return found

    def clash(self, path: Path, nearer: Document, farther: Document) -> None:
        kind, name = path
        rule = "not-a-setup" if kind == "modes" else "name-clash"
        message = f"the {ONE[str(kind)]} {one_line(str(name))} is declared here, and in {one_line(farther.name)} too"
        help = "keep one of them"
        differing = _differing(_table_of(nearer, path), _table_of(farther, path))
        order = ["when"] if kind == "modes" else []  # a mode's place in their order hangs on the file
        disputed = [(*path, key) for key in (*differing, *order)]
        if differing:
            message += f", with another {word_list(map(one_line, differing[:MOST_RELATED]), 'and')}"
        if disputed:
            help += "; until then it is not known which of them counts"
        self.disputed.update(disputed)
        other = RelatedPlace(path, "the same name here", farther.name)
        subject = str(name) if rule == "name-clash" else dotted(path)
        self.problems.append(
            SetupProblem(
                rule, path, printable(message), printable(help), printable(subject), True, None, (other,), nearer.name
            )
        )

    def note(
        self,
        message: str,
        help: str,
        path: Path,
        document: Document,
        *,
        key: bool = False,
        subject: str = "",
        others: Sequence[str] = (),
    ) -> None:
        where = subject or (dotted(path) if document is self.own else f"{dotted(path)} of {document.name}")
        related = tuple(RelatedPlace((other,), "nor can this", document.name) for other in others[:MOST_RELATED])
        self.problems.append(
            SetupProblem(
                "not-a-setup",
                path,
                printable(message),
                printable(help),
                printable(where),
                key,
                None,
                related,
                document.name,
            )
        )


def _table_of(document: Document, path: Path) -> dict[str, Any]:
    """What a text says of a part; nothing where that could not be read."""
    part = value_at(document.values, path)
    return part if isinstance(part, dict) else {}


def _differing(one: dict[str, Any], other: dict[str, Any]) -> list[str]:
    """The keys of which two declarations say different things."""
    return [key for key in {**one, **other} if one.get(key) != other.get(key)]


def _names(document: Document, kind: str) -> Iterator[str]:
    """The names of a kind that a text declares; also those of which only the name could be read."""
    table = document.values.get(kind)
    yield from table if isinstance(table, dict) else ()
    for path in document.broken:
        if len(path) > 1 and path[0] == kind:
            yield str(path[1])
