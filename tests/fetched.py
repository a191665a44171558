"""What tests are held against and is not ours to copy: fetched from packages when it is first needed, kept by pytest."""

from __future__ import annotations

import os
import subprocess
import sys
import tarfile
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.once import alone
from tests.programs import program

Get = Callable[[Path], subprocess.CompletedProcess[str]]


def sdist(config: pytest.Config, name: str, version: str = "") -> Path:
    """The source archive of a Python package, of that version or the newest."""

    def get(folder: Path) -> subprocess.CompletedProcess[str]:
        wanted = f"{name}=={version}" if version else name
        command = [sys.executable, "-m", "pip", "download", "--no-deps", "--no-binary", name, wanted, "-d", str(folder)]
        return subprocess.run(command, capture_output=True, text=True)

    return _archive(config, f"{name}-{version or '*'}.tar.gz", get)


def npm_package(config: pytest.Config, name: str, version: str) -> Path:
    """The archive of a package of npm's."""

    def get(folder: Path) -> subprocess.CompletedProcess[str]:
        command = [program("npm"), "pack", "--silent", f"{name}@{version}", "--pack-destination", str(folder)]
        return subprocess.run(command, capture_output=True, text=True)

    return _archive(config, f"{name}-{version}.tgz", get)


def member(archive: Path, end: str) -> bytes:
    """The bytes of the file in an archive whose name ends so."""
    with tarfile.open(archive) as tar:
        for each in tar:
            if each.name.endswith(end):
                content = tar.extractfile(each)
                assert content is not None
                return content.read()
    pytest.fail(f"{archive.name} has no {end}")


def _archive(config: pytest.Config, pattern: str, get: Get) -> Path:
    cache: pytest.Cache | None = getattr(config, "cache", None)
    assert cache is not None
    folder = cache.mkdir("fetched")
    with alone(folder):
        return _kept(folder, pattern, get)


def _kept(folder: Path, pattern: str, get: Get) -> Path:
    found = sorted(folder.glob(pattern))
    if not found:
        fresh = folder / f"fresh-{os.getpid()}"
        fresh.mkdir(exist_ok=True)
        try:
            done = get(fresh)
        except OSError as error:
            pytest.fail(f"{pattern} cannot be had: {error}")
        for archive in fresh.glob(pattern):
            archive.replace(folder / archive.name)
        found = sorted(folder.glob(pattern))
        if not found:
            pytest.fail(f"{pattern} cannot be had: {done.stdout[-1000:]}{done.stderr[-1000:]}")
    return found[-1]
