"""By what a setup is judged, apart from what stands in it: the rules as they are for it, and what may be waived."""

from __future__ import annotations

from collections.abc import Mapping

from setuplint.book import rulebook
from setuplint.book.rule_file import Rule
from setuplint.dataclass import dataclass, field
from setuplint.findings import NEWEST


@dataclass(frozen=True, slots=True)
class Choices:
    """`rules` are all of the book, as of an edition and with a club's limits, and the club's own; `left_out` those that the
    edition does not have. `never_waive` holds names of rules and signal words; without `waive`, waivers hide nothing."""

    rules: Mapping[str, Rule] = field(default_factory=rulebook.rules)
    left_out: frozenset[str] = frozenset()
    never_waive: frozenset[str] = frozenset()
    waive: bool = True
    edition: int = NEWEST
    pinned: bool = False
    config: str = ""
    require_record: bool = False  # a setup without a record of its fingerprint is a finding
