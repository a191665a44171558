"""A club's repository grown large: 5,000 setups and 200 commits, each of which touches three of them.

Printed are files a second for a lint of everything, seconds for a lint of what a commit touches and for comparing it with
the commit before, peak memory for one folder and for all of them, and the share of a lint's time that each room takes.
The peer, in the same run, is check-jsonschema over the same files by our own schema. The aim is over 300 files a second
on two cores, and memory that does not grow with the count.

    python -m tests.benchmarks.scale            # all of it: minutes
    python -m tests.benchmarks.scale 500 20     # fewer setups and commits
"""

from __future__ import annotations

import cProfile
import json
import os
import pstats
import re
import resource
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path
from statistics import median
from time import perf_counter

import setuplint
from setuplint.setup.schema import json_schema

ROOT = Path(__file__).parent.parent.parent
SETUPS, COMMITS, TOUCHED = 5_000, 200, 3
AUTHOR = ("-c", "user.name=A pilot", "-c", "user.email=pilot@example.invalid", "-c", "commit.gpgsign=false")
ENVIRONMENT = {**os.environ, "PYTHONPATH": str(ROOT)}


def texts(count: int) -> dict[str, str]:
    """The safe examples over and over, each with thresholds of its own, so that no two have the same formulas."""
    found = [path.read_text(encoding="utf-8") for path in sorted((ROOT / "examples").glob("*.toml"))]
    setups = [text for text in found if "[craft]" in text and "extends" not in text]
    return {f"pilot-{n % 97:02}/craft-{n:04}.toml": own(setups[n % len(setups)], n) for n in range(count)}


def own(text: str, number: int) -> str:
    return re.sub(r"([<>]=? \d+\.\d)(?!\d)", rf"\g<1>0{number:04}", text)


def git(folder: str, *words: str) -> bytes:
    return subprocess.run(["git", "-C", folder, *AUTHOR, *words], check=True, capture_output=True).stdout


def history(folder: str, count: int, commits: int) -> list[list[str]]:
    """Makes the repository; the files that each commit touches."""
    git(folder, "init", "-q")
    setups = texts(count)
    for name, text in setups.items():
        path = Path(folder, name)
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, encoding="utf-8")
    git(folder, "add", "-A")
    git(folder, "commit", "-qm", "All setups")
    names = sorted(setups)
    touched = []
    for commit in range(commits):
        some = [names[(commit * 31 + n * 997) % count] for n in range(TOUCHED)]
        for name in some:
            path = Path(folder, name)
            text = path.read_text(encoding="utf-8")
            path.write_text(re.sub(r"priority = 50\b", f"priority = {51 + commit % 40}", text, count=1) + "# touched\n")
        git(folder, "commit", "-qam", f"Commit {commit}")
        touched.append(some)
    return touched


def command(folder: str, *words: str) -> float:
    start = perf_counter()
    done = subprocess.run(
        [sys.executable, "-m", "setuplint", *words], cwd=folder, capture_output=True, env=ENVIRONMENT, check=False
    )
    if done.returncode not in (0, 1):
        raise SystemExit(done.stderr.decode()[-2000:])
    return perf_counter() - start


def peak(folder: str, *words: str) -> float:
    """MiB of the largest process of a run."""
    code = (
        "import resource, sys; from setuplint.cli import main; main(sys.argv[1:]);"
        "print(max(resource.getrusage(w).ru_maxrss for w in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)), file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *words], cwd=folder, capture_output=True, env=ENVIRONMENT, check=True
    )
    return int(done.stderr.split()[-1]) / 1024


def rooms(setups: dict[str, str]) -> dict[str, float]:
    """The share of each room in the time of a lint."""
    some = list(setups.values())[:100]
    profile = cProfile.Profile()
    profile.enable()
    for text in some:
        setuplint.lint_text(text)
    profile.disable()
    found: Counter[str] = Counter()
    for (file, _, _), (_, _, own_time, *_) in pstats.Stats(profile).stats.items():  # type: ignore[attr-defined]
        found[room(file)] += own_time
    total = sum(found.values())
    return {name: time / total for name, time in found.most_common(8)}


def room(file: str) -> str:
    parts = Path(file).parts
    return (
        parts[parts.index("setuplint") + 1].removesuffix(".py") if "setuplint" in parts[:-1] else "outside the package"
    )


def run(count: int = SETUPS, commits: int = COMMITS) -> None:
    with tempfile.TemporaryDirectory() as folder:
        touched = history(folder, count, commits)
        whole = command(folder, "lint", ".")
        print(
            f"{os.cpu_count()} cores: lint of {count:,} setups  {count / whole:7.0f} files a second   (aim: over 300)"
        )
        with tempfile.TemporaryDirectory() as kept:
            first = command(folder, "lint", ".", "--cache", kept)
            again = command(folder, "lint", ".", "--cache", kept)
        print(f"the same with --cache, first time / again  {count / first:5.0f} / {count / again:.0f} files a second")
        schema = Path(folder, ".git", "schema.json")
        schema.write_text(json.dumps(json_schema()), encoding="utf-8")
        peer = Path(sys.executable).parent / "check-jsonschema"
        start = perf_counter()
        names = [name for name in git(folder, "ls-files").decode().split() if name.endswith(".toml")]
        subprocess.run([peer, "--schemafile", schema, *names], cwd=folder, check=True, capture_output=True)
        took = perf_counter() - start
        print(f"check-jsonschema, the same files       {count / took:7.0f} files a second   (one process)")
        print(f"ratio                                  {took / whole:7.2f}")
        print(
            f"lint of what a commit touches          {median(command(folder, 'lint', *some) for some in touched[:10]):7.2f} s"
        )
        times = []
        last = branch(folder)
        for back, some in enumerate(reversed(touched)):
            git(folder, "checkout", "-q", f"{last}~{back}")
            times.append(command(folder, "compare", "--since", "HEAD~1", *some))
        git(folder, "checkout", "-q", last)
        print(f"compare of a commit with the one before {median(times):6.2f} s   (all {commits}: {sum(times):.0f} s)")
        few = str(Path(folder, "pilot-00"))
        small, large = peak(folder, "lint", few), peak(folder, "lint", ".")
        print(f"peak memory, {len(os.listdir(few))} setups / all of them    {small:5.0f} / {large:.0f} MiB")
        shares = "  ".join(f"{name} {share:.0%}" for name, share in rooms(texts(count)).items())
        print(f"time by room: {shares}")


def branch(folder: str) -> str:
    return git(folder, "for-each-ref", "--format=%(refname:short)", "refs/heads").decode().split()[0]


if __name__ == "__main__":
    assert resource  # Unix alone: memory is measured by it
    sys.exit(run(*map(int, sys.argv[1:])))
