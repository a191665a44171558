"""The ends of a range without their cases are those with them."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

import setuplint
from setuplint.engine.ranges import bounds
from setuplint.setup import formulas as f

ROOT = Path(__file__).parent.parent.parent
EXAMPLES = [
    path for path in sorted((ROOT / "examples").glob("*.toml")) if "[craft]" in path.read_text(encoding="utf-8")
]
HAZARDS = sorted((ROOT / "examples" / "hazards").glob("*.toml"))


@pytest.mark.quick(2)
@pytest.mark.parametrize("path", [*EXAMPLES, *HAZARDS[::4]], ids=lambda path: path.stem)
def test_bounds_are_those_of_the_range(path: Path) -> None:
    setup = setuplint.load(path)
    slow, quick = setuplint.decide(setup), setuplint.decide(setup)
    free = f.Not(f.Predicate("hold called"))
    for channel in setup.model.channels:
        for given in (f.TRUE, free, *(f.both(f.ModeIs(mode), free) for mode in setup.model.modes)):
            whole = slow.output_range(channel, given)
            assert bounds(quick, channel, given) == (whole.verdict, whole.least, whole.greatest), (channel, given)


@pytest.mark.quick(3)
@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_an_end_that_no_line_and_no_override_suggests_is_found(path: Path) -> None:
    """The question alone stops the stick, at a place of its own: it takes halving."""
    setup = setuplint.load(path)
    slow, quick = setuplint.decide(setup), setuplint.decide(setup)
    halfway = f.both(f.Compare("throttle", ">=", Fraction(-37)), f.Compare("throttle", "<=", Fraction(43)))
    given = f.both(halfway, *(f.Not(f.Predicate(f"{word} called")) for word in ("hold", "rescue")))
    for channel in setup.model.channels.values():
        if channel.drives == "motor":
            whole = slow.output_range(channel.name, given)
            assert bounds(quick, channel.name, given) == (whole.verdict, whole.least, whole.greatest)


def test_a_channel_that_is_not_there() -> None:
    setup = setuplint.load(EXAMPLES[0])
    with pytest.raises(KeyError):
        bounds(setuplint.decide(setup), "no-such", f.TRUE)
