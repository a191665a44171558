"""How fast the work of a lint grows with a setup: `python -m tests.benchmarks.exponents` prints, by shape, the calls of functions
at three sizes, and the local exponent between the two largest: 1 is as fast as the setup grows, 2 its square.

Calls are counted, not time: they are the same in every run. The exponent is of what is added to the calls of the shape at size 1,
so that the part of a lint that does not grow flatters no shape. The aim is at most 1.3. What ends because the budget of a file is
spent (setuplint/budget.py) grows no more, so what was not decided stands beside it.
"""

from __future__ import annotations

from math import log

from tests.growth import Effort, effort
from tests.shapes import SHAPES

SIZES = {
    "modes": (8, 16, 32),
    "overrides, one channel": (32, 64, 128),
    "overrides, one priority": (32, 64, 128),
    "overrides, many channels": (32, 64, 128),
    "conditions, chain": (50, 100, 200),
    "conditions, tree": (50, 100, 200),
    "conditions, xor": (50, 100, 200),
    "conditions, shared": (50, 100, 200),
    "delays": (6, 12, 24),
    "latches": (6, 12, 24),
    "toggles": (6, 12, 24),
    "channels": (7, 15, 30),
}


def exponent(least: Effort, smaller: Effort, larger: Effort) -> float:
    added = (larger.calls - least.calls) / (smaller.calls - least.calls)
    return log(added) / log(larger.size / smaller.size)


def measured(name: str, sizes: tuple[int, ...]) -> tuple[list[Effort], float]:
    """What lints of a shape at some sizes cost, and the exponent of the two largest."""
    effort(SHAPES[name], 1, count_calls=False)  # what is imported is no part of it
    least, *efforts = [effort(SHAPES[name], size) for size in (1, *sizes)]
    return efforts, exponent(least, *efforts[-2:])


def main() -> None:
    print(f"{'what grows':<26}{'sizes':>13}{'calls at each':>38}{'exponent':>10}{'not decided':>13}")
    for name, sizes in SIZES.items():
        efforts, local = measured(name, sizes)
        calls = "".join(f"{each.calls:>12,}" for each in efforts)
        start = f"{name:<26}{'/'.join(map(str, sizes)):>13}  {calls}"
        print(f"{start}{local:>10.2f}{efforts[-1].undecided:>13}")


if __name__ == "__main__":
    main()
