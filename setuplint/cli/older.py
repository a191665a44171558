"""A set-up as it was: another file, or the same one in a revision of git's."""

from __future__ import annotations

import os

from setuplint import library
from setuplint.cli import files, single_setup
from setuplint.cli.revisions import Tree, sides
from setuplint.cli.trouble import Trouble
from setuplint.club.git_files import REGULAR, GitError
from setuplint.formats.numbers import counted


def older_setup(old: str, file: str) -> library.Setup:
    """The set-up in the file `old`; where there is none of that name, `file` as it was in that revision, which is taken as
    `compare --since` does. Trouble where it is neither, or cannot be read."""
    if old in ("", "-") or os.path.lexists(old):
        return single_setup.readable_setup(old).setup
    if file == "-":
        raise Trouble(f"there is no file {files.printable(old)}, and standard input is in no revision")
    try:
        tree = Tree(sides(old))
    except (Trouble, GitError) as error:
        raise Trouble(f"there is no file {files.printable(old)}, and as a revision: {error}") from None
    entry = tree.old.entries.get(tree.name(file))
    if entry is None or entry.mode not in REGULAR:
        raise Trouble(f"there was no {files.printable(file)} in {tree.old.revision}")
    beside = tree.beside(tree.old, file)
    setup = library.load_text(tree.content(entry.name), beside.called, beside)
    wrong = single_setup.mistake_count(setup)
    if wrong or not setup.document.values:
        raise Trouble(f"{beside.called}: {counted(wrong, 'mistake')} in it, so nothing was written")
    return setup
