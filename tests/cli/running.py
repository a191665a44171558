"""Running the command: in this process where nothing else is wanted, as one of its own where the process matters."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

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


def process(*args: str | Path, stdin: bytes = b"", **options: object) -> Ran:
    """Runs `python -m setuplint` on its own."""
    done = subprocess.run(
        [sys.executable, "-m", "setuplint", *map(str, args)],
        input=stdin,
        capture_output=True,
        env=environment(),
        **options,  # type: ignore[call-overload]
    )
    return Ran(done.returncode, done.stdout.decode(), done.stderr.decode())
