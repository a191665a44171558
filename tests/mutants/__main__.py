"""The whole run, by hand: every mutant of every family, or one in so many. Exit status 1 where anything disagrees."""

from __future__ import annotations

import argparse
import sys
from concurrent.futures import ProcessPoolExecutor
from functools import partial

from .mutants import SAFE, Outcome, mutants, outcome
from .seeds import FAMILIES
from .tally import Tally


def tallied(job: tuple[str, str], every: int) -> Tally:
    tally = Tally()
    for mutant in mutants(*job, every):
        try:
            tally.add(outcome(mutant))
        except Exception as error:  # one judge's fault must not lose what hours of others found
            tally.add(Outcome(mutant, wrong=[f"{type(error).__name__}: {error}"]))
    return tally


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.mutants", description=__doc__)
    parser.add_argument("--every", type=int, default=1, metavar="N", help="one mutant in N (default: all)")
    parser.add_argument("--only", nargs="*", default=[], metavar="WORD", help="these examples or families alone")
    options = parser.parse_args()
    jobs = [(e, f) for e in SAFE for f in FAMILIES if not options.only or {e, f} & set(options.only)]
    whole = Tally()
    with ProcessPoolExecutor() as pool:
        try:
            for job, tally in zip(jobs, pool.map(partial(tallied, every=options.every), jobs), strict=True):
                whole.merge(tally)
                for line in [f"{', '.join(job)}: {tally.mutants} mutants", *tally.wrong]:
                    print(line, file=sys.stderr, flush=True)
        except KeyboardInterrupt:  # what was seen until then is told
            pool.shutdown(wait=False, cancel_futures=True)
            print(f"ended early, after {whole.mutants} mutants", file=sys.stderr)
    print("\n".join(whole.lines()))
    return bool(whole.wrong)


if __name__ == "__main__":
    sys.exit(main())
