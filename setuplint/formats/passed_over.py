"""What a run did not look at, and why: every output counts it, so that nothing is passed over in silence."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from setuplint.named_tuple import NamedTuple

NO_SETUP, TOO_LARGE, NO_FILE = "not-a-setup", "too-large", "no-file"
LINK_OUT, LINK_NOWHERE = "link-out", "link-nowhere"

REASONS = {  # one, and more
    NO_SETUP: ("other TOML file, not a setup", "other TOML files, not setups"),
    TOO_LARGE: ("file too large to be a setup", "files too large to be setups"),
    LINK_OUT: ("link out of the folder", "links out of the folder"),
    LINK_NOWHERE: ("link that leads nowhere", "links that lead nowhere"),
    NO_FILE: ("name that is no file", "names that are no files"),
}


class PassedOver(NamedTuple):
    """A file, or a link, and the key of REASONS."""

    file: str
    because: str


def passed_over_words(every: Iterable[PassedOver]) -> str:
    """`3 other TOML files, not setups; 1 link that leads nowhere`; empty where there is nothing."""
    counts = Counter(each.because for each in every)
    return "; ".join(
        f"{counts[because]:,} {words[counts[because] > 1]}" for because, words in REASONS.items() if counts[because]
    )
