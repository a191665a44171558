"""How long reading a setup takes us, as a ratio to the standard library's reader, which keeps no places.

Run as `python tests/benchmarks/bench_source.py` in the repository.
"""

import statistics
import subprocess
import sys
import time
import tomllib
from collections.abc import Callable
from pathlib import Path

_ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(_ROOT))

from setuplint.source import parsed_document  # noqa: E402

_SETUP = _ROOT / "tests/source/setups/heron.toml"
_SIZE = 4_000


def _setup() -> str:
    """About 4 kB: a setup, with more curves and switches until it is long enough."""
    text = _SETUP.read_text(encoding="utf-8")
    number = 0
    while len(text) < _SIZE:
        number += 1
        text += f'[switches.extra-{number}]\nkind = "two-position"\npositions = ["off", "on"]  # one more\n'
        text += f"[curves.extra-{number}]\npoints = [[-100, -62.5], [0, 12], [50, 54.25], [100, 100]]\n"
    return text


def _median(run: Callable[[], object], times: int) -> float:
    taken = []
    for _ in range(times):
        begin = time.perf_counter()
        run()
        taken.append(time.perf_counter() - begin)
    return statistics.median(taken)


def _cold(code: str, text: str) -> float:
    command = [sys.executable, "-c", code]
    return _median(lambda: subprocess.run(command, input=text.encode(), cwd=_ROOT, check=True), 15)


def main() -> None:
    text = _setup()
    data = text.encode()
    assert not parsed_document(data).problems
    ours, theirs = _median(lambda: parsed_document(data), 500), _median(lambda: tomllib.loads(text), 500)
    print(f"{len(text)} characters; ours to tomllib:")
    print(f"warm: {ours * 1e3:.2f} ms to {theirs * 1e3:.2f} ms, ratio {ours / theirs:.2f}")
    ours = _cold(
        "import sys; from setuplint.source import parsed_document; parsed_document(sys.stdin.buffer.read())", text
    )
    theirs = _cold("import sys, tomllib; tomllib.loads(sys.stdin.buffer.read().decode())", text)
    print(f"cold, whole process: {ours * 1e3:.1f} ms to {theirs * 1e3:.1f} ms, ratio {ours / theirs:.2f}")


if __name__ == "__main__":
    main()
