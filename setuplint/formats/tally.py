"""What a lint comes to, for every output: what was found, not judged and not decided, and beside it what is hidden."""

from __future__ import annotations

from collections.abc import Mapping

from setuplint.findings import SIGNALS
from setuplint.formats.document import Phrase
from setuplint.formats.numbers import counted
from setuplint.formats.terminal import Look
from setuplint.named_tuple import NamedTuple

HIDDEN = {
    "waived": "{} waived",
    "baselined": "{} in the baseline",
    "left-out": "rules left out by the edition: {}",
    "only-counted": "{} of the findings only counted",
}


class Tally(NamedTuple):
    """`found` is by signal word, without what was not decided; `hidden` by the keys of HIDDEN, without zeros."""

    found: Mapping[str, int]
    not_judged: int = 0
    not_decided: int = 0
    hidden: Mapping[str, int] = {}
    nothing: str = "nothing found"

    @property
    def is_clean(self) -> bool:
        """Nothing found, with nothing left open and nothing hidden."""
        counts = (*self.found.values(), self.not_judged, self.not_decided, *self.hidden.values())
        return self.nothing == "nothing found" and not any(counts)

    def phrases(self) -> list[Phrase]:
        """`2 dangers`, `8 not judged`, `1 not decided`. That nothing was found is good only where it stands alone."""
        said = [Phrase(counted(self.found[signal], signal), f"signal {signal}", True)
                for signal in SIGNALS if self.found[signal]]  # fmt: skip
        said = said or [Phrase(self.nothing, "signal good" if self.is_clean else "signal", True)]
        still_open = (self.not_judged, "not judged"), (self.not_decided, "not decided")
        return said + [Phrase(f"{count:,} {what}", "open", True) for count, what in still_open if count]

    @property
    def hidden_words(self) -> str:
        """`; hidden: 3 waived, 2 in the baseline`, or nothing."""
        said = [HIDDEN[what].format(f"{count:,}") for what, count in self.hidden.items()]
        return f"; hidden: {', '.join(said)}" if said else ""

    def words(self) -> list[str | Phrase]:
        """All of it, as words of a document."""
        first, *others = self.phrases()
        return [first, *(each for phrase in others for each in (", ", phrase)), self.hidden_words]

    def text(self, look: Look | None = None) -> str:
        look = look or Look()
        return ", ".join(look.paint(each.words, each.role.split()[-1]) for each in self.phrases()) + self.hidden_words

    def values(self) -> dict[str, object]:
        """As keys of JSON."""
        hidden = {what: self.hidden.get(what, 0) for what in HIDDEN}
        return {
            "found": {signal: self.found[signal] for signal in SIGNALS},
            "not-judged": self.not_judged,
            "not-decided": self.not_decided,
            "hidden": hidden,
        }
