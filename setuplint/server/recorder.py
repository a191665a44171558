"""A process that reads the other setups of a repository for the server, so that none of it delays what is typed.

It is given the texts that are open in the editor, by real path, and answers a path with `{"record", "shared"}`: what the setups
of its radio need to know of that file, and the paths of the shared files that it extends.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from contextlib import suppress
from typing import Any

from setuplint.book import radios
from setuplint.book.radios import RadioRecord
from setuplint.named_tuple import NamedTuple
from setuplint.server.helper_process import HelperProcess, answer_lines


class Recorded(NamedTuple):
    """The record of a file, None where it is no setup of a radio, and the real paths of its shared files."""

    record: RadioRecord | None
    shared_files: tuple[str, ...] = ()


class Recorder(HelperProcess):
    """The process as seen from the server."""

    def __init__(self) -> None:
        super().__init__("recorder")

    def record(self, path: str) -> Recorded:
        """The record of the file at a real path; an empty one where the process cannot be started, or died of it."""
        answer = self.answer(path)
        if answer is None:
            return Recorded(None)
        return Recorded(radios.record_of(answer["record"], path), tuple(answer["shared"]))


# -- in the process


def main() -> None:
    answer_lines(recorded_file)


def recorded_file(path: str, open_texts: Mapping[str, str]) -> dict[str, Any]:
    from setuplint.server.parsed import Buffers
    from setuplint.setup import loaded_setup
    from setuplint.setup.file_sources import LARGEST, file_content

    found: dict[str, Any] = {"record": {}, "shared": []}
    with suppress(Exception):  # whatever is wrong with a file is reported where it is linted
        text = open_texts.get(path)
        data = file_content(path, LARGEST) if text is None else text.encode(errors="surrogatepass")
        if data is None or len(data) > LARGEST or b"radio" not in data:
            return found
        texts, setup, _ = loaded_setup(data, path, Buffers(path, open_texts, path, {}))
        found["shared"] = [os.path.realpath(each.name) for each in texts.shared]
        if setup.craft.radio and not texts.is_shared_file:
            found["record"] = radios.record_written(radios.record(path, setup))
    return found
