"""A thousand setups by one `setuplint lint`, with as many workers as there are cores, and by one process alone.

They are the safe examples over and over, each with thresholds of its own, so that no two have the same formulas.
The aim is over 200 a second on two cores.
"""

from __future__ import annotations

import io
import os
import re
import sys
import tempfile
from contextlib import redirect_stdout
from pathlib import Path
from time import perf_counter

from setuplint.cli import lint_run, main

ROOT = Path(__file__).parent.parent.parent
COUNT = 1000


def write(folder: Path) -> None:
    texts = [
        path.read_text(encoding="utf-8")
        for path in sorted((ROOT / "examples").glob("*.toml"))
        if path.stem not in ("plover", "club-radio")  # these are nothing without each other
    ]
    for number in range(COUNT):
        text = texts[number % len(texts)]
        own = re.sub(r"([<>]=? \d+\.\d)(?!\d)", rf"\g<1>0{number:04}", text)
        (folder / f"{number:04}.toml").write_text(f"# {number}\n{own}", encoding="utf-8")


def seconds(folder: str) -> float:
    start = perf_counter()
    with redirect_stdout(io.StringIO()) as out:
        status = main(["lint", folder])
    took = perf_counter() - start
    if status != 0:
        raise SystemExit(f"status {status}\n{out.getvalue()[-2000:]}")
    return took


def run() -> None:
    with tempfile.TemporaryDirectory() as folder:
        write(Path(folder))
        together = seconds(folder)
        lint_run.MANY = COUNT
        alone = seconds(folder)
    print(f"{os.cpu_count()} cores        {COUNT / together:7.0f} setups a second   (aim on two: over 200)")
    print(f"one process    {COUNT / alone:7.0f} setups a second")
    print(f"ratio          {alone / together:7.2f}")


if __name__ == "__main__":
    sys.exit(run())
