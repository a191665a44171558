"""The setuplint.toml that holds for a file: the nearest one upwards. A few looks at the disk, and nothing is imported."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from typing import NamedTuple

NAME = "setuplint.toml"


class NearestFile(NamedTuple):
    """A setuplint.toml, and the folder that nothing which it names may lead out of."""

    path: str
    root: str


def nearest_config(file: str) -> NearestFile | None:
    """For a file by its path; "" is standard input, or a text, in the working folder."""
    return nearest(os.path.realpath(os.path.dirname(file)))


def given_config(path: str) -> NearestFile:
    """One that is named: nothing that it names may lead out of its work tree or, without one, out of its folder."""
    real = os.path.join(os.path.realpath(os.path.dirname(path)), os.path.basename(path))
    folder = os.path.dirname(real)
    return NearestFile(real, next((d for d in _upwards(folder) if _has(d, ".git")), folder))


def nearest(folder: str) -> NearestFile | None:
    """For the files of a folder, given by its real path: in it or above it, not above the root of its git work tree.

    Without a work tree it is not above the home folder, not on another device, and neither in the root of the file system
    nor in or above a folder that anyone may write to: nobody else chooses for a pilot.
    """
    above = list(_upwards(folder))
    for index, here in enumerate(above):
        if _has(here, ".git"):
            return next((NearestFile(os.path.join(d, NAME), here) for d in above[: index + 1] if _has(d, NAME)), None)
    return next((NearestFile(os.path.join(d, NAME), d) for d in _own(above) if _has(d, NAME)), None)


def _upwards(folder: str) -> Iterator[str]:
    yield folder
    while (above := os.path.dirname(folder)) != folder:
        yield (folder := above)


def _own(above: list[str]) -> Iterator[str]:
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
