"""What has changed since a revision: the setups, each with what it was, and what they are judged by."""

from __future__ import annotations

import os
from collections.abc import Callable, Collection, Iterator, Sequence
from functools import partial
from itertools import chain

from setuplint.cli import files, single_setup
from setuplint.cli.revisions import Changed, Tree, sides
from setuplint.cli.trouble import TooLarge, Trouble
from setuplint.club.baseline import BaselineError, read_baseline
from setuplint.club.config import ConfigError
from setuplint.club.git_files import GitError, GitFiles
from setuplint.club.policy_changes import Change, PolicyChange, policy_changes
from setuplint.formats.passed_over import NO_SETUP, TOO_LARGE, PassedOver
from setuplint.named_tuple import NamedTuple
from setuplint.setup.file_sources import FileSource, Folder
from setuplint.setup.shared_files import is_shared_file
from setuplint.source import parsed_document as read_text


class SideText(NamedTuple):
    """A setup's text, and what it is called; `data` is None where it is not there."""

    name: str
    data: bytes | None
    beside: FileSource | None = None  # reads the shared parts that it extends
    path: str = (
        ""  # of the file in the work tree, whose setuplint.toml holds; of an old revision's, that of the new one
    )


Read = Callable[[], tuple[SideText, SideText]]  # gives the two, or Trouble


class Since(NamedTuple):
    """What there is to compare; what setups are judged by that has changed; with what it is compared, where that is not the
    revision that was named; and the files that are there now, where they are not the work tree's."""

    pairs: Iterator[Read]
    policy: Sequence[PolicyChange] = ()
    said: str = ""
    side: GitFiles | None = None
    passed_over: Sequence[PassedOver] = ()  # complete once the pairs are at an end


def changes(revision: str, paths: list[str], baseline: str, *, staged: bool) -> Since:
    """What has changed under the paths (none: the working folder), and what extends a shared part that has. Trouble where a path
    was never there, and where there is no setup; but a hook may stand in a repository that has none yet."""
    read_baseline.cache_clear()
    tree = Tree(sides(revision, staged=staged))
    given = paths or ["."]
    tree.check_paths(given)
    try:
        changed = tree.changed(given)
        pairs = _pairs(tree, changed)
        first = next(pairs, None)
        if first is None and not (staged and not paths):
            _check_setups(tree, given)
        policy = policy_changes(Change(_judged_files(tree, given, changed), tree.old, tree.new, baseline))
    except (GitError, ConfigError, BaselineError) as error:
        raise Trouble(str(error)) from None
    return Since(chain([first], pairs) if first else iter(()), policy, tree.said, tree.new, tree.passed_over)


def _check_setups(tree: Tree, paths: list[str]) -> None:
    if not any(files.is_setup_text(data) for data in tree.texts(paths)):
        where = ", ".join(map(files.printable, paths))
        raise Trouble(f"there is no setup among {where}, and there was none: nothing was compared")


def _judged_files(tree: Tree, paths: list[str], changed: list[Changed]) -> list[tuple[str, str]]:
    """The paths of TOML files as they were, and as they are."""
    was = {tree.name(each.new): tree.name(each.old) for each in changed if each.old and each.new}
    return [(os.path.join(tree.root, was.get(name, name)), os.path.join(tree.root, name)) for name in tree.names(paths)]


def _pairs(tree: Tree, changed: list[Changed]) -> Iterator[Read]:
    extended = tree.extended(changed)
    every = [*changed, *tree.extending(changed)]
    every = sorted([*every, *tree.recorded(every)], key=lambda each: each.new or each.old)
    return filter(None, (_pair(tree, each, extended) for each in every))


def given_text(path: str) -> SideText:
    """A file that was named."""
    return SideText(
        *single_setup.name_and_content(path), files.beside(single_setup.candidate(path)), "" if path == "-" else path
    )


def _pair(tree: Tree, changed: Changed, extended: Collection[str]) -> Read | None:
    """Both sides of a change; None where neither is a set-up of its own: other TOML files are passed over, and so are shared
    parts, which are compared with what extends them. `extended` are the paths of files that others extend."""
    shared = any(tree.place(name) in extended for name in (changed.old, changed.new) if name)
    old = new = SideText("", None)
    large = ""
    try:
        if changed.blob:
            beside = tree.beside(tree.old, changed.old)
            old = SideText(beside.called, tree.content(changed.blob), beside)
    except TooLarge as trouble:
        large = str(trouble)
    try:
        if changed.path:
            new = _new_text(tree, changed)
    except TooLarge as trouble:
        large = str(trouble)
    except Trouble as trouble:
        return partial(_raise_trouble, str(trouble))
    if any(text.data is not None and _is_setup(text.data, shared=shared) for text in (old, new)):
        why = large or (changed.unseen and f"{files.printable(changed.old)} {changed.unseen}")
        return partial(_raise_trouble, why) if why else lambda: (old, new)
    if not shared:
        tree.pass_over(changed.new or changed.old, TOO_LARGE if large else NO_SETUP)
    return None


def _new_text(tree: Tree, changed: Changed) -> SideText:
    if tree.new is not None:
        beside = tree.beside(tree.new, changed.new)
        return SideText(beside.called, tree.content(changed.now), beside, changed.path)
    new = given_text(changed.path)._replace(name=files.printable(changed.new))
    return new._replace(beside=Folder(changed.path, new.name))


def _raise_trouble(trouble: str) -> tuple[SideText, SideText]:
    raise Trouble(trouble)


def _is_setup(data: bytes, *, shared: bool) -> bool:
    """Whether it is a set-up at all; with `shared` it is extended, and none if it has only what can be shared."""
    return files.is_setup_text(data) and not (shared and is_shared_file(read_text(data)))
