"""What every shape costs at about 1 MB: `python -m tests.heavy RESULTS BEGUN [COMMAND ...]` runs these commands (all of them)
on every shape that RESULTS has no line for yet, and adds a line for each: command, shape, seconds of user CPU, MB at the most,
status, and the seconds that a lint of the reference took just before by the checkout BEGUN, of the commit at which the bounds
were begun. `python -m tests.heavy RESULTS --page` puts them into docs/growth.md. No test asks for
seconds: they are those of one machine."""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from typing import NamedTuple

from tests.growth import DOCS, MARK
from tests.server.wire import Wire
from tests.shapes import REFERENCE, beside, largest
from tests.shapes import SHAPES as SENSIBLE
from tests.strange_shapes import STRANGE

ROOT = Path(__file__).parent.parent
SHAPES = SENSIBLE | STRANGE
COMMANDS = {
    "lint": ["lint", "own.toml"],
    "compare": ["compare", "other.toml", "own.toml"],
    "bench-card": ["bench-card", "own.toml"],
    "report": ["report", "own.toml"],
    "sheet": ["sheet", "own.toml"],
    "trace": ["trace", "own.toml"],
    "sweep": ["trace", "own.toml", "--sweep", "throttle"],
    "lint --fix": ["lint", "own.toml", "--fix"],
    "json": ["lint", "own.toml", "--format", "json"],
    "sarif": ["lint", "own.toml", "--format", "sarif"],
    "notes": ["notes", "own.toml"],
    "record": ["record", "own.toml", "own.record.json"],
    "soften": ["soften", "--of", "own.toml", "hover-soft"],
    "server": ["serve"],  # from opening the text to its findings
}
RECORD = {
    "record": 1, "craft": "Wagtail 470", "file": "own.toml", "fingerprint": "0" * 8, "on": "2026-11-28", "scale": "percent",
    "boxes": [{"box": 1, "mark": "0" * 8, "done": True}],
}  # fmt: skip
UNITS = 1  # lints of the reference before a command, and as many after it
MOST_SECONDS = 120  # of CPU, then it is ended

PROSE = """
## At about 1,000,000 bytes

`python -m tests.heavy RESULTS BEGUN` runs commands on every shape at the largest size that is still read, `compare` on that
and the same with one edit: seconds of user CPU; how many times that of a lint of the reference by the commit at which the
bounds were begun, measured before and after it (0.15 to 0.2 s, with other work beside); and memory at the most.
The aim is at most 40 times and 400 MB. A cell is of the commit at which it was measured; *not run* is not measured yet;
*ended, 2* is a command that says what it could not compare, or that something of the file cannot be read. The shapes from
*alarms of two sensors* on are `tests/strange_shapes.py`: files as a stranger might send them, rather than as a pilot writes them.

"""


class Cost(NamedTuple):
    """Of one run."""

    command: str
    shape: str
    seconds: float
    megabytes: int
    status: int
    unit: float  # seconds of a lint of the reference by the commit at which the bounds were begun

    @property
    def cell(self) -> str:
        ended = f" (ended, {self.status})" if self.status not in (0, 1) else ""
        return f"{self.seconds:.1f} s, {self.seconds / self.unit:.0f} x, {self.megabytes} MB{ended}"


def cost(command: str, name: str, folder: Path, begun: Path) -> Cost:
    def unit() -> float:
        return used_by(begun, begun, "lint", "examples/reference.toml")[0]

    before = [unit() for _ in range(UNITS)]
    used = used_by(ROOT, folder, *COMMANDS[command])
    return Cost(command, name, *used, median([*before, *(unit() for _ in range(UNITS))]))


def used_by(root: Path, folder: Path, *words: str) -> tuple[float, int, int]:
    """Seconds, MB and the status of a command by a checkout; byte code is kept, as a user's is."""
    left_out = ("PYTHONDONTWRITEBYTECODE", "PYTHONUNBUFFERED")
    kept = {name: value for name, value in os.environ.items() if name not in left_out}
    serves = words == ("serve",)
    pipe = subprocess.PIPE if serves else subprocess.DEVNULL
    with subprocess.Popen([sys.executable, "-m", "setuplint", *words], cwd=folder, env=kept | {"PYTHONPATH": str(root)},
                          preexec_fn=limit, stdin=pipe, stdout=pipe, stderr=subprocess.DEVNULL) as process:  # fmt: skip
        if serves:
            open_in(process, folder / "own.toml")
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
    return used.ru_utime, used.ru_maxrss // 1024, process.returncode


class Opened(Wire):
    """A server that was started here."""

    def __init__(self, process: subprocess.Popen[bytes]) -> None:
        self.process, self.passed = process, {}


def open_in(process: subprocess.Popen[bytes], path: Path) -> None:
    """Open a file in a language server, wait for what it finds in it, and let it end."""
    wire = Opened(process)
    wire.start(root=path.parent)
    wire.open(path.read_text(encoding="utf-8"), path.as_uri())
    wire.request("shutdown", None, 2)
    wire.notify("exit", None)


def limit() -> None:
    resource.setrlimit(resource.RLIMIT_CPU, (MOST_SECONDS, MOST_SECONDS))


def put(name: str, folder: Path) -> None:
    """A shape at its largest, and the same with one edit."""
    shape = SHAPES.get(name, lambda size: REFERENCE)
    text = shape(largest(shape) if name in SHAPES else 0)
    for file, content in (
        {"own.toml": text, "other.toml": text.replace("value = 55", "value = 54", 1)}
        | {"own.record.json": json.dumps(RECORD)}
        | beside(text)
    ).items():
        (folder / file).write_text(content, encoding="utf-8")


def run(results: Path, begun: Path, commands: list[str]) -> None:
    done = {(each.command, each.shape) for each in costs(results)}
    for command in commands:
        for name in ("reference", *SHAPES):
            if (command, name) not in done:
                with TemporaryDirectory() as folder:
                    put(name, Path(folder))
                    with results.open("a", encoding="utf-8") as lines:
                        print(*cost(command, name, Path(folder), begun), sep="\t", file=lines)


def costs(results: Path) -> Iterator[Cost]:
    for line in results.read_text(encoding="utf-8").splitlines() if results.exists() else ():
        command, shape, seconds, megabytes, status, unit = line.split("\t")
        yield Cost(command, shape, float(seconds), int(megabytes), int(status), float(unit))


def table(results: Path) -> str:
    cells = {(each.shape, each.command): each.cell for each in costs(results)}
    run = [command for command in COMMANDS if any(command == known for _, known in cells)]
    lines = [f"| shape | {' | '.join(run)} |", f"| --- |{' ---: |' * len(run)}"]
    for name in ("reference", *SHAPES):
        lines.append(f"| {name} | {' | '.join(cells.get((name, command), 'not run') for command in run)} |")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    path, *words = sys.argv[1:]
    if words == ["--page"]:
        page = DOCS / "growth.md"
        head = page.read_text(encoding="utf-8").split(MARK)[0]
        page.write_text(head + MARK + PROSE + table(Path(path)), encoding="utf-8")
    else:
        begun, *commands = words
        run(Path(path), Path(begun).resolve(), commands or list(COMMANDS))
