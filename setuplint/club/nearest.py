"""The setuplint.toml that hold for a file: all of them upwards, by a few looks at the disk."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator, Sequence

from setuplint.named_tuple import NamedTuple
from setuplint.setup.file_sources import folders_above

NAME = "setuplint.toml"
MODULES = b"/modules/"  # in the path of a submodule's own repository, which lies in that of the tree around it


class NearestFile(NamedTuple):
    """A setuplint.toml, and the folder that nothing which it names may lead out of."""

    path: str
    root: str


def config_files(file: str, tops: Sequence[str] = ()) -> list[NearestFile]:
    """For a file by its path, the outermost first; "" is standard input, or a text, in the working folder.

    They lie in its folder or above it, not above the root of its git work tree (of the tree around it, if it is in a
    submodule). Without a work tree none is above the home folder, on another device, or in the root of the file system or in or
    above a folder that anyone may write to (nobody else chooses for a pilot), but in one of `tops`, folders by their real
    paths that the pilot has named, or below it.
    """
    return list(reversed(list(_config_files(os.path.realpath(os.path.dirname(file)), tops))))


def given_config(path: str) -> NearestFile:
    """One that is named: nothing that it names may lead out of its work tree or, without one, out of its folder."""
    real = os.path.join(os.path.realpath(os.path.dirname(path)), os.path.basename(path))
    folder = os.path.dirname(real)
    return NearestFile(real, _tree(list(folders_above(folder))) or folder)


def _config_files(folder: str, tops: Sequence[str]) -> Iterator[NearestFile]:
    above = list(folders_above(folder))
    tree = _tree(above)
    own = () if tree else set(_is_own(above))
    named = max((above.index(top) for top in tops if top in above), default=-1)
    for index, here in enumerate(above):
        if (tree or here in own or index <= named) and _has(here, NAME):
            yield NearestFile(os.path.join(here, NAME), tree or here)
        if here == tree:
            return


def _tree(above: list[str]) -> str:
    """The root of the work tree that the first of these is in; empty without one."""
    roots = [folder for folder in above if _has(folder, ".git")]
    return next((root for root in roots if root == roots[-1] or not _is_submodule(root)), "")


def _is_submodule(folder: str) -> bool:
    path = os.path.join(folder, ".git")
    if not os.path.isfile(path) or os.path.islink(path):
        return False
    try:
        with open(path, "rb") as file:
            return MODULES in file.read(4096)
    except OSError:
        return False


def _is_own(above: list[str]) -> Iterator[str]:
    home = os.path.realpath(os.path.expanduser("~"))
    device = None
    for folder in above[:-1]:
        try:
            here = os.stat(folder)
        except OSError:
            continue
        device = here.st_dev if device is None else device
        if here.st_dev != device or (os.name == "posix" and here.st_mode & stat.S_IWOTH):
            return
        yield folder
        if folder == home:
            return


def _has(folder: str, name: str) -> bool:
    return os.path.lexists(os.path.join(folder, name))
