"""The TOML suite, as the source archive of tomlkit carries it."""

import os
import subprocess
import sys
import tarfile
from pathlib import Path

import pytest

_FOLDER = "/tests/toml-test/tests/"


def _archive(folder: Path) -> Path:
    found = sorted(folder.glob("tomlkit-*.tar.gz"))
    if not found:
        fresh = folder / f"fresh-{os.getpid()}"
        command = [
            sys.executable,
            "-m",
            "pip",
            "download",
            "--no-deps",
            "--no-binary",
            "tomlkit",
            "tomlkit",
            "-d",
            fresh,
        ]
        done = subprocess.run(command, capture_output=True, text=True)
        if done.returncode != 0:
            pytest.fail(f"the TOML suite cannot be had: {done.stderr[-2000:]}")
        for archive in fresh.glob("tomlkit-*.tar.gz"):
            archive.replace(folder / archive.name)
        found = sorted(folder.glob("tomlkit-*.tar.gz"))
    return found[-1]


@pytest.fixture(scope="session")
def suite(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """Every file that the suite lists for TOML 1.0, by its name as listed: valid/array/array.toml and the like."""
    cache: pytest.Cache | None = getattr(request.config, "cache", None)
    folder = cache.mkdir("toml-suite") if cache is not None else tmp_path_factory.mktemp("toml-suite")
    files = {}
    with tarfile.open(_archive(folder)) as archive:
        for member in archive:
            _, inside, name = member.name.partition(_FOLDER)
            content = archive.extractfile(member) if inside else None
            if content is not None:
                files[name] = content.read()
    listed = files["files-toml-1.0.0"].decode().split()
    return {name: files[name] for name in listed}
