"""A process that reads the other setups of a repository for the server, so that none of it delays what is typed.

It takes lines of JSON: `{"open"}` has the texts that are open in the editor, by real path; `{"path"}` is answered with
`{"record", "shared"}`: what the setups of its radio need to know of that file, and the paths of the shared files that it
extends. It ends when its standard input does.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

from setuplint.book import radios
from setuplint.book.radios import RadioRecord
from setuplint.named_tuple import NamedTuple

MOST_STARTS = 3
NICENESS = 10  # of the process: it is never urgent
PROGRAM = "from setuplint.server.recorder import main; main()"


class Recorded(NamedTuple):
    """The record of a file, None where it is no setup of a radio, and the real paths of its shared files."""

    record: RadioRecord | None
    shared_files: tuple[str, ...] = ()


class Recorder:
    """The process as seen from the server: it starts when it is needed. Only one thread at a time may ask it."""

    def __init__(self) -> None:
        self.process: subprocess.Popen[bytes] | None = None
        self.starts_left = MOST_STARTS
        self.texts: Mapping[str, str] = {}
        self.texts_sent = False

    def open(self, texts: Mapping[str, str]) -> None:
        """Set the open texts, which replace those on the disk from now on."""
        self.texts = dict(texts)
        self.texts_sent = False

    def record(self, path: str) -> Recorded:
        """The record of the file at a real path; an empty one where the process cannot be started, or died of it."""
        with suppress(OSError, ValueError, KeyError, TypeError):
            process = self._started()
            if process is None or process.stdin is None or process.stdout is None:
                return Recorded(None)
            lines = [{"path": path}] if self.texts_sent else [{"open": self.texts}, {"path": path}]
            process.stdin.write("".join(f"{json.dumps(line)}\n" for line in lines).encode())
            process.stdin.flush()
            self.texts_sent = True
            answer = json.loads(process.stdout.readline())
            return Recorded(radios.record_of(answer["record"], path), tuple(answer["shared"]))
        self.end()
        return Recorded(None)

    def end(self) -> None:
        if self.process is not None:
            self.process.kill()
            self.process, self.texts_sent = None, False

    def _started(self) -> subprocess.Popen[bytes] | None:
        if self.process is None and self.starts_left > 0:
            self.starts_left -= 1
            # -P: nothing is imported from the editor's working folder
            self.process = subprocess.Popen(
                [sys.executable, "-P", "-c", PROGRAM],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                env=_environment(),
            )
        return self.process


def _environment() -> dict[str, str]:
    """The environment, in which a checkout that is not installed can be imported."""
    checkout = Path(__file__).parent.parent.parent
    if not (checkout / "pyproject.toml").is_file():
        return dict(os.environ)
    others = os.environ.get("PYTHONPATH")
    return os.environ | {"PYTHONPATH": os.pathsep.join([str(checkout), *([others] if others else [])])}


# -- in the process


def main() -> None:
    if hasattr(os, "nice"):
        os.nice(NICENESS)
    out = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    texts: dict[str, str] = {}
    for line in sys.stdin.buffer:
        message = json.loads(line)
        texts = message.get("open", texts)
        if "path" in message:
            out.write(json.dumps(recorded_file(message["path"], texts)).encode() + b"\n")
            out.flush()


def recorded_file(path: str, open_texts: Mapping[str, str]) -> dict[str, Any]:
    from setuplint.engine.decider import Decider
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
            found["record"] = radios.record_written(radios.record(path, Decider(setup)))
    return found
