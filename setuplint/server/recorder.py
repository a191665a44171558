"""A process that reads the other set-ups of a repository for the server, so that none of it delays what is typed.

It is spoken to in lines of JSON: `{"open"}` has the texts that are open in the editor, by real path, and `{"path"}` is answered
by `{"record", "parts"}`: what the set-ups of its radio need to know of that file, and the paths of the shared parts that it
extends. It ends when nobody is there to ask any more.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any, NamedTuple

from setuplint.book import radios
from setuplint.book.radios import Record

MOST_STARTS = 3
NICE = 10  # of the process: it has time
PROGRAM = "from setuplint.server.recorder import main; main()"


class Recorded(NamedTuple):
    """None for what is no set-up of a radio; the shared parts are real paths."""

    record: Record | None
    parts: tuple[str, ...] = ()


class Recorder:
    """The process as seen from the server: it is started when it is needed. To be asked by one thread at a time."""

    def __init__(self) -> None:
        self.process: subprocess.Popen[bytes] | None = None
        self.left = MOST_STARTS
        self.texts: Mapping[str, str] = {}
        self.told = False

    def open(self, texts: Mapping[str, str]) -> None:
        """Tell it what is open: it counts for all that is asked from now on."""
        self.texts = dict(texts)
        self.told = False

    def record(self, path: str) -> Recorded:
        """Of the file at a real path. Nothing where the process cannot be had, or did not live through it."""
        with suppress(OSError, ValueError, KeyError, TypeError):
            process = self._started()
            if process is None or process.stdin is None or process.stdout is None:
                return Recorded(None)
            lines = [{"path": path}] if self.told else [{"open": self.texts}, {"path": path}]
            process.stdin.write("".join(f"{json.dumps(line)}\n" for line in lines).encode())
            process.stdin.flush()
            self.told = True
            answer = json.loads(process.stdout.readline())
            return Recorded(radios.record_of(answer["record"], path), tuple(answer["parts"]))
        self.end()
        return Recorded(None)

    def end(self) -> None:
        if self.process is not None:
            self.process.kill()
            self.process, self.told = None, False

    def _started(self) -> subprocess.Popen[bytes] | None:
        if self.process is None and self.left > 0:
            self.left -= 1
            # -P: nothing is imported from the folder that the editor happens to be in
            self.process = subprocess.Popen(
                [sys.executable, "-P", "-c", PROGRAM],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                env=_environment(),
            )
        return self.process


def _environment() -> dict[str, str]:
    """A checkout that is not installed is found where this one was."""
    checkout = Path(__file__).parent.parent.parent
    if not (checkout / "pyproject.toml").is_file():
        return dict(os.environ)
    others = os.environ.get("PYTHONPATH")
    return os.environ | {"PYTHONPATH": os.pathsep.join([str(checkout), *([others] if others else [])])}


# -- in the process


def main() -> None:
    if hasattr(os, "nice"):
        os.nice(NICE)
    out = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    texts: dict[str, str] = {}
    for line in sys.stdin.buffer:
        said = json.loads(line)
        texts = said.get("open", texts)
        if "path" in said:
            out.write(json.dumps(answer(said["path"], texts)).encode() + b"\n")
            out.flush()


def answer(path: str, open_texts: Mapping[str, str]) -> dict[str, Any]:
    from setuplint.engine.decider import Decider
    from setuplint.server.analysis import Buffers
    from setuplint.setup import loaded_setup
    from setuplint.setup.file_sources import LARGEST, file_content

    found: dict[str, Any] = {"record": {}, "parts": []}
    with suppress(Exception):  # whatever is in a file: it is told where it is linted
        text = open_texts.get(path)
        data = file_content(path, LARGEST) if text is None else text.encode(errors="surrogatepass")
        if data is None or len(data) > LARGEST or b"radio" not in data:
            return found
        beside = Buffers(path, open_texts, path, {})
        texts, setup, _ = loaded_setup(data, path, beside)
        found["parts"] = [os.path.realpath(each.name) for each in texts.shared]
        if setup.craft.radio and not texts.is_shared_file:
            found["record"] = radios.record_written(radios.record(path, Decider(setup)))
    return found
