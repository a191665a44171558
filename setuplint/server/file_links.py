"""The files that a text names: what a setup extends, a club's folders of rules; and what becomes of the names when one moves."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping

from setuplint.setup.file_sources import (
    LARGEST,
    Refused,
    extending_pairs,
    file_content,
    name_from,
    relative_path,
    repository_root,
)
from setuplint.setup.problems import value_at
from setuplint.source import Document, Path, Span, parsed_document

EXTENDS: Path = ("extends",)


def inside_quotes(document: Document, path: Path) -> Span | None:
    """The place of a string without its quotes; None where there is none on one line."""
    span = document.value_span(path)
    if span is None or not isinstance(value_at(document.values, path), str) or span.end - span.start < 2:
        return None
    return Span(span.start + 1, span.end - 1)


def extended_file(document: Document, path: str) -> str | None:
    """The path of the file that the text at a path extends, if that is one that may be read; it need not be there."""
    try:
        named = relative_path(document.values.get("extends"), "")
    except Refused:
        return None
    real = os.path.realpath(os.path.join(os.path.dirname(os.path.abspath(path)), named))
    return real if real.startswith(repository_root(os.path.dirname(path)).rstrip(os.sep) + os.sep) else None


def linked_files(document: Document, path: str, *, is_config: bool) -> Iterator[tuple[Span, list[str]]]:
    """The names of files in a text at a path, each with the files that it stands for: one, or those of a folder of rules."""
    if not is_config:
        span, found = inside_quotes(document, EXTENDS), extended_file(document, path)
        if span is not None and found is not None and os.path.isfile(found):
            yield span, [found]
        return
    from setuplint.club import config, nearest

    allowed = set(config.rule_folders(document, nearest.given_config(path)))
    names = document.values.get("rules")
    for number, name in enumerate(names if isinstance(names, list) else ()):
        span = inside_quotes(document, ("rules", number))
        folder = os.path.realpath(os.path.join(os.path.dirname(path), name)) if isinstance(name, str) else ""
        if span is not None and folder in allowed:
            files = sorted(each for each in os.listdir(folder) if each.endswith(".toml"))
            yield span, [os.path.join(folder, each) for each in files]


def moved_names(moves: Mapping[str, str], texts: Mapping[str, str]) -> Iterator[tuple[str, str, Span, str]]:
    """What has to be written where files move, given by their old paths: each time the path of a file, its text, a place in it
    and the new name. `texts` are those that are open, by real path; a name that could not be read afterwards is left."""
    new = {os.path.realpath(old): os.path.abspath(to) for old, to in moves.items()}
    roots = {repository_root(os.path.dirname(old)) for old in new}
    for path, other in {pair for root in roots for pair in extending_pairs(root)}:
        to, folder = new.get(other, other), os.path.dirname(new.get(path, path))
        if (to, folder) != (other, os.path.dirname(path)):
            yield from _renamed(path, texts, to, folder)


def _renamed(path: str, texts: Mapping[str, str], to: str, folder: str) -> Iterator[tuple[str, str, Span, str]]:
    try:
        text = texts[path] if path in texts else (file_content(path, LARGEST) or b"").decode("utf-8-sig")
        name = name_from(folder, to)
        relative_path(name, "")
    except (OSError, ValueError, Refused):
        return
    document = parsed_document(text)
    span = inside_quotes(document, EXTENDS)
    if span is None or document.text[span.start : span.end] == name:
        return
    if '"' not in name and "'" not in name and "\\" not in name:
        yield path, text, span, name
