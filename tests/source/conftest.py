"""The TOML suite, as the source archive of tomlkit carries it."""

import tarfile

import pytest

from tests.fetched import sdist

_FOLDER = "/tests/toml-test/tests/"


@pytest.fixture(scope="session")
def suite(pytestconfig: pytest.Config) -> dict[str, bytes]:
    """Every file that the suite lists for TOML 1.0, by its name as listed: valid/array/array.toml and the like."""
    files = {}
    with tarfile.open(sdist(pytestconfig, "tomlkit")) as archive:
        for member in archive:
            _, inside, name = member.name.partition(_FOLDER)
            content = archive.extractfile(member) if inside else None
            if content is not None:
                files[name] = content.read()
    listed = files["files-toml-1.0.0"].decode().split()
    return {name: files[name] for name in listed}
