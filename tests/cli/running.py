"""Running the command: in this process where nothing else is wanted, as one of its own where the process matters."""

from __future__ import annotations

import io
import os
import subprocess
import sys
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple, NoReturn

from setuplint.cli import start

ROOT = Path(__file__).parent.parent.parent
REFERENCE = (ROOT / "examples" / "reference.toml").read_text(encoding="utf-8")
HAZARD = (ROOT / "examples" / "hazards" / "rescue-beats-hold.toml").read_text(encoding="utf-8")


class Ran(NamedTuple):
    status: int
    out: str
    err: str

    @property
    def words(self) -> str:
        """Standard output as one line, since where it is wrapped does not matter."""
        return " ".join(self.out.split())


Command = Callable[..., Ran]


def waits_for_the_trim_alone(done: Ran) -> bool:
    """Whether all that a lint found is that the throttle's trim is not known yet."""
    only = "1 setup: 1 caution," in done.words and "sticks.throttle.trim is not given" in done.words
    return done.status == 1 and only


def environment(**changed: str) -> dict[str, str]:
    """The environment of a child: this checkout's package, nothing of the terminal."""
    kept = {key: value for key, value in os.environ.items() if key not in ("NO_COLOR", "TERM", "PYTHONHASHSEED")}
    return kept | {"PYTHONPATH": str(ROOT), "TERM": "xterm"} | changed


def process(*args: str | Path, stdin: bytes = b"", seed: str | None = None, **options: object) -> Ran:
    """Runs `python -m setuplint` on its own; `seed` is that of Python's hashes."""
    done = subprocess.run(
        [sys.executable, "-m", "setuplint", *map(str, args)],
        input=stdin,
        capture_output=True,
        env=environment() if seed is None else environment(PYTHONHASHSEED=seed),
        **options,  # type: ignore[call-overload]
    )
    return Ran(done.returncode, done.stdout.decode(), done.stderr.decode())


def forked(*args: str | Path, before: Callable[[], object] = lambda: None, out: Path | None = None) -> Ran:
    """Runs `setuplint` as a process of its own that is a copy of this one: it has its own limits, files and end, and need not
    bring all its modules in again. `before` is what it does first; where `out` is given it writes there. It gets no input."""
    read_out, read_err = os.pipe(), os.pipe()
    child = os.fork()
    if child == 0:
        written = read_out[1] if out is None else os.open(out, os.O_WRONLY)
        _be_the_command(written, read_err[1], list(map(str, args)), before)
    said = []
    os.close(read_out[1])
    os.close(read_err[1])
    for ours in (read_out[0], read_err[0]):
        with open(ours, "rb") as pipe:
            said.append(pipe.read().decode())
    _, status = os.waitpid(child, 0)
    return Ran(os.waitstatus_to_exitcode(status), *said)


def _be_the_command(out: int, err: int, words: list[str], before: Callable[[], object]) -> NoReturn:
    """The streams are as Python opens them at its start; nothing of pytest runs at the end."""
    try:
        for number, file in enumerate((os.open(os.devnull, os.O_RDONLY), out, err)):
            os.dup2(file, number)
        os.closerange(3, os.sysconf("SC_OPEN_MAX"))
        sys.stdin, sys.stdout = os.fdopen(0, encoding="utf-8"), os.fdopen(1, "w", encoding="utf-8")
        sys.stderr = io.TextIOWrapper(os.fdopen(2, "wb", 0), "utf-8", "backslashreplace", write_through=True)
        sys.argv = ["setuplint", *words]
        before()
        start()
    except SystemExit as end:
        os._exit(int(end.code or 0))
    except BaseException:
        traceback.print_exc()
    finally:
        os._exit(1)
