"""What every shape costs at about 1 MB: `python -m tests.heavy RESULTS [COMMAND ...]` runs these commands (all of them)
on every shape that RESULTS has no line for yet, and adds a line for each: command, shape, seconds of user CPU, MB at the most,
status. `python -m tests.heavy RESULTS --page` puts them into docs/growth.md. Seconds are those of one machine: no test asks."""

from __future__ import annotations

import os
import resource
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

from tests.growth import DOCS, MARK
from tests.shapes import REFERENCE, SHAPES, beside, largest

ROOT = Path(__file__).parent.parent
COMMANDS = {
    "lint": ["own.toml"],
    "compare": ["other.toml", "own.toml"],
    "bench-card": ["own.toml"],
    "report": ["own.toml"],
    "sheet": ["own.toml"],
    "trace": ["own.toml"],
}
MOST_SECONDS = 120  # of CPU, then it is ended

PROSE = """
## At about 1,000,000 bytes

`python -m tests.heavy RESULTS` runs commands on every shape at the largest size that is still read, `compare` on that
and the same with one edit: seconds of user CPU, and memory at the most. On the machine and day of these figures, with
much other work beside, a lint of the reference took 0.36 s by the commit at which the bounds were begun: 40 times that
are 14.4 s. A cell is of the commit at which it was measured; *not run* is not measured yet; *ended, 2* is a `compare` that
says what it could not compare. Known to be over the seconds and over 400 MB: `compare` of modes, and `bench-card` of
chains, xor and shared; over the seconds alone: `bench-card` of trees. `lint` of switches is over 400 MB.

"""


class Cost(NamedTuple):
    """Of one run."""

    command: str
    shape: str
    seconds: float
    megabytes: int
    status: int

    @property
    def cell(self) -> str:
        ended = f" (ended, {self.status})" if self.status not in (0, 1) else ""
        return f"{self.seconds:.1f} s, {self.megabytes} MB{ended}"


def cost(command: str, name: str, folder: Path) -> Cost:
    words = [sys.executable, "-m", "setuplint", command, *COMMANDS[command]]
    with subprocess.Popen(words, cwd=folder, env=os.environ | {"PYTHONPATH": str(ROOT)}, preexec_fn=limit,
                          stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as process:  # fmt: skip
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
    return Cost(command, name, used.ru_utime, used.ru_maxrss // 1024, process.returncode)


def limit() -> None:
    resource.setrlimit(resource.RLIMIT_CPU, (MOST_SECONDS, MOST_SECONDS))


def put(name: str, folder: Path) -> None:
    """A shape at its largest, and the same with one edit."""
    shape = SHAPES.get(name, lambda size: REFERENCE)
    text = shape(largest(shape) if name in SHAPES else 0)
    for file, content in (
        {"own.toml": text, "other.toml": text.replace("value = 55", "value = 54", 1)} | beside(text)
    ).items():
        (folder / file).write_text(content, encoding="utf-8")


def run(results: Path, commands: list[str]) -> None:
    done = {(each.command, each.shape) for each in costs(results)}
    for command in commands:
        for name in ("reference", *SHAPES):
            if (command, name) not in done:
                with TemporaryDirectory() as folder:
                    put(name, Path(folder))
                    with results.open("a", encoding="utf-8") as lines:
                        print(*cost(command, name, Path(folder)), sep="\t", file=lines)


def costs(results: Path) -> Iterator[Cost]:
    for line in results.read_text(encoding="utf-8").splitlines() if results.exists() else ():
        command, shape, seconds, megabytes, status = line.split("\t")
        yield Cost(command, shape, float(seconds), int(megabytes), int(status))


def table(results: Path) -> str:
    cells = {(each.shape, each.command): each.cell for each in costs(results)}
    lines = [f"| shape | {' | '.join(COMMANDS)} |", f"| --- |{' ---: |' * len(COMMANDS)}"]
    for name in ("reference", *SHAPES):
        lines.append(f"| {name} | {' | '.join(cells.get((name, command), 'not run') for command in COMMANDS)} |")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    path, *words = sys.argv[1:]
    if words == ["--page"]:
        page = DOCS / "growth.md"
        head = page.read_text(encoding="utf-8").split(MARK)[0]
        page.write_text(head + MARK + PROSE + table(Path(path)), encoding="utf-8")
    else:
        run(Path(path), words or list(COMMANDS))
