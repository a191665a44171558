"""A process of its own that works for the server, so that no key waits for it: a second thread would take its share of the
interpreter from the one that judges.

It takes lines of JSON: `{"open"}` has what is open in the editor, `{"path"}` is answered with a line of JSON about that file. It
ends when its standard input does.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

MOST_STARTS = 3
NICENESS = 10  # of the process: it is never urgent


class HelperProcess:
    """The process as seen from the server: it starts when it is needed. Only one thread at a time may ask it."""

    def __init__(self, module: str) -> None:
        """`module` is the one of this package whose `main` is run."""
        self.program = f"from setuplint.server.{module} import main; main()"
        self.process: subprocess.Popen[bytes] | None = None
        self.starts_left = MOST_STARTS
        self.opened: Any = {}
        self.opened_sent = False

    def open(self, opened: Any) -> None:
        """Set what is open in the editor: it replaces what is on the disk from now on."""
        self.opened, self.opened_sent = opened, False

    def answer(self, path: str) -> dict[str, Any] | None:
        """What is said of the file at a real path; None where the process cannot be started, or died of it."""
        with suppress(OSError, ValueError, KeyError, TypeError):
            process = self._started()
            if process is None or process.stdin is None or process.stdout is None:
                return None
            lines = [{"path": path}] if self.opened_sent else [{"open": self.opened}, {"path": path}]
            process.stdin.write("".join(f"{json.dumps(line)}\n" for line in lines).encode())
            process.stdin.flush()
            self.opened_sent = True
            answer: dict[str, Any] = json.loads(process.stdout.readline())
            return answer
        self.end()
        return None

    @property
    def is_given_up(self) -> bool:
        """Whether it has died too often to be started again."""
        return self.process is None and self.starts_left == 0

    def end(self) -> None:
        if self.process is not None:
            self.process.kill()
            self.process, self.opened_sent = None, False

    def _started(self) -> subprocess.Popen[bytes] | None:
        if self.process is None and self.starts_left > 0:
            self.starts_left -= 1
            # -P: nothing is imported from the editor's working folder
            self.process = subprocess.Popen(
                [sys.executable, "-P", "-c", self.program],
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


def answer_lines(answer: Callable[[str, Any], dict[str, Any]]) -> None:
    """Answer each path, with what is open then."""
    if hasattr(os, "nice"):
        os.nice(NICENESS)
    out = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    opened: Any = {}
    for line in sys.stdin.buffer:
        message = json.loads(line)
        opened = message.get("open", opened)
        if "path" in message:
            out.write(json.dumps(answer(message["path"], opened)).encode() + b"\n")
            out.flush()
