"""What is staged, to be linted: the files that are named, those that extend them, and the others of their radios."""

from __future__ import annotations

import os
from collections.abc import Collection, Sequence

from setuplint.cli import files
from setuplint.cli.files import Candidate, Gathered
from setuplint.club.git_files import GitFiles
from setuplint.club.git_folder import extending_in, toml_files_under
from setuplint.setup.file_sources import name_from, path_from
from setuplint.source import parsed_document


def gathered_staged(tree: GitFiles, paths: Sequence[str], *, sure: bool) -> Gathered:
    """The staged files that the paths stand for, as `files.gathered` has those of the disk; a setuplint.toml stands for all that
    lies where it judges."""
    found = Gathered()
    for given in dict.fromkeys(paths):
        path = files.setup_of_record(given, lambda each: tree.name(os.path.abspath(each)) in tree.entries)
        name = tree.name(os.path.abspath(path)) if path else None
        if not path or path == "-" or name is None:
            found.troubles.append(f"--staged is about the files of the work tree, and {path!r} is none")
        elif os.path.basename(name) == files.CONFIG:
            found.candidates += _named(tree, toml_files_under(tree, [os.path.dirname(name) or "."]))
        elif name in tree.entries or not tree.is_folder(name):
            found.candidates.append(Candidate(files.printable(path), path, sure, tree))
        else:
            found.candidates += _named(tree, toml_files_under(tree, [name]))
    found.candidates = files.each_once(found.candidates)
    return found


def extending_staged(tree: GitFiles, given: Collection[Candidate]) -> list[Candidate]:
    """The files that extend one that was given, some of them through others, and were not given."""
    paths = {os.path.abspath(each.path) for each in given}
    while more := {one for one, other in extending_in(tree) if other in paths} - paths:
        paths |= more
    return _others(tree, paths, given)


def radio_neighbours(tree: GitFiles, given: Collection[Candidate]) -> list[Candidate]:
    """The set-ups that were not given, and name a radio that one of them names."""
    names = toml_files_under(tree, ["."])
    blobs = {name: tree.entries[name].name for name in names}
    own = [tree.name(os.path.abspath(each.path)) or "" for each in given]
    contents = tree.contents([blobs[name] for name in own if name in blobs], files.LARGEST)
    radios = {_radio(contents[blobs[name]]) for name in own if name in blobs} - {None}
    if not radios:
        return []
    same = {blob for blob, data in tree.stream(blobs.values(), files.LARGEST) if _radio(data) in radios}
    return _others(tree, {os.path.join(tree.root, name) for name in names if blobs[name] in same}, given)


def _radio(data: bytes) -> str | None:
    if len(data) > files.LARGEST or not (b"radio" in data or b"\\" in data) or not files.is_setup_text(data):
        return None
    craft = parsed_document(data).values.get("craft")
    radio = craft.get("radio") if isinstance(craft, dict) else None
    return radio if isinstance(radio, str) else None


def _others(tree: GitFiles, paths: set[str], given: Collection[Candidate]) -> list[Candidate]:
    known = {os.path.abspath(each.path) for each in given}
    return _named(tree, [name_from(tree.root, path) for path in sorted(paths - known)])


def _named(tree: GitFiles, names: Sequence[str]) -> list[Candidate]:
    """Not setuplint.toml, which is no set-up."""
    return [
        Candidate(files.printable(path), path, False, tree)
        for name in names
        if os.path.basename(name) != files.CONFIG
        for path in [path_from(os.curdir, os.path.join(tree.root, name))]
    ]


def walk_order(candidate: Candidate) -> list[tuple[int, str]]:
    """By which a folder's files are taken: those in it first, then its folders'. What is usual on a radio turns on it."""
    *folders, file = os.path.abspath(candidate.path).split(os.sep)
    return [*((1, folder) for folder in folders), (0, file)]
