"""A cold `setuplint lint` of one example against a cold `check-jsonschema` of the same file by our own schema.

Both are started as processes in turn; printed are the medians and their ratio. The aim is at most 0.35, of an installed package.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from statistics import median
from time import perf_counter

from setuplint.setup.schema import json_schema

ROOT = Path(__file__).parent.parent.parent
EXAMPLE = ROOT / "examples" / "reference.toml"
ROUNDS = 15
# As users have it: byte code is kept, and written by the first round.
ENVIRONMENT = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}


def seconds(command: list[str]) -> float:
    start = perf_counter()
    done = subprocess.run(command, capture_output=True, cwd=ROOT, env=ENVIRONMENT)
    took = perf_counter() - start
    if done.returncode != 0:
        raise SystemExit(f"{command} failed:\n{done.stdout.decode()}{done.stderr.decode()}")
    return took


def script(name: str) -> str:
    """The environment's own script: a version manager's stand-in would add to the time."""
    found = Path(sys.executable).parent / name
    if not found.exists():
        raise SystemExit(f"{found} is not there: install the project and its development group first")
    return str(found)


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        schema = Path(folder, "schema.json")
        schema.write_text(json.dumps(json_schema()), encoding="utf-8")
        ours = [script("setuplint"), "lint", str(EXAMPLE)]
        theirs = [script("check-jsonschema"), "--schemafile", str(schema), str(EXAMPLE)]
        bare = [sys.executable, "-c", "pass"]
        times: dict[str, list[float]] = {"lint": [], "check-jsonschema": [], "python": []}
        for _ in range(ROUNDS):
            for name, command in (("lint", ours), ("check-jsonschema", theirs), ("python", bare)):
                times[name].append(seconds(command))
    middle = {name: median(found) for name, found in times.items()}
    for name, found in middle.items():
        print(f"{name:<18} {found * 1000:7.1f} ms")
    print(f"ratio              {middle['lint'] / middle['check-jsonschema']:7.2f}   (aim: at most 0.35)")


if __name__ == "__main__":
    main()
