"""What a comparison says."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction

from setuplint.comparison.matching import Matching
from setuplint.comparison.regions import Region
from setuplint.dataclass import dataclass, field
from setuplint.findings import RENDERERS, Finding, Report, Value
from setuplint.named_tuple import NamedTuple
from setuplint.setup.model import Setup

SideValue = str | Fraction | None


class OutputAt(NamedTuple):
    """A channel's output with the sticks at these places, before and now."""

    sticks: Mapping[str, Fraction]
    before: Fraction
    now: Fraction


@dataclass(frozen=True, slots=True)
class CraftChange:
    """One difference in what the craft does.

    `kind` is output, mode, alarm, timer, intent, start (what is admitted at power-up), or written (a value that no state is
    needed to tell: a failsafe, a repeat, a delay). `before` and `now` are outputs in percent, or words. `where` are the
    states it is so in, in parts; `whole` says that there are no others. `witness`, `steps` and `outputs` (old and new by
    channel) are of one state, as in a finding.
    """

    kind: str
    subject: str
    before: SideValue
    now: SideValue
    was_by: str = ""  # who decided: an override, or a line in a mode
    by: str = ""
    where: tuple[Region, ...] = ()
    whole: bool = True
    sticks: Mapping[str, tuple[tuple[Fraction, Fraction], ...]] | None = None  # stretches of the stick in question
    # sticks without which there is no difference, where it is not told by stretches of one
    hangs_on: tuple[str, ...] = ()
    witness: Mapping[str, Value] | None = None
    steps: tuple[Mapping[str, Value], ...] = ()
    at: tuple[Fraction, ...] = ()  # at which second each step begins, where that matters
    assumed: tuple[str, ...] = ()
    drives: str = ""  # of an output: what the channel drives; of a number that is a motor's output: motor
    rise: OutputAt | None = None  # where the output is furthest above what it was, and furthest below
    fall: OutputAt | None = None
    hover: OutputAt | None = None  # at the place of the stick at which the craft hovered, by its measured number


@dataclass(frozen=True, slots=True)
class NotCompared:
    """What could not be compared, and why."""

    subject: str
    because: str


class ChangedHazard(NamedTuple):
    """A finding of both setups that says something else of the new one: another output, other states. `is_open`: neither a
    waiver nor the baseline keeps it from failing."""

    before: Finding
    now: Finding
    is_open: bool


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two setups compared, by the names of their files; "" is a file that is not there.

    `same` are the parts that are proved to do the same in every state, by kind (None: nothing was compared); `gained` and
    `lost` are findings of the new and of the old setup alone; `hidden` those that a waiver or the baseline keeps from
    failing, and did not before; `kept` counts those of both, `changed` are those of them that are not the same. `states` of
    the controls were decided.
    """

    old: str
    new: str
    matching: Matching = field(default_factory=Matching)
    changes: tuple[CraftChange, ...] = ()
    same: Mapping[str, int] | None = None
    open: tuple[NotCompared, ...] = ()
    gained: tuple[Finding, ...] = ()
    lost: tuple[Finding, ...] = ()
    kept: int = 0
    hidden: tuple[Finding, ...] = ()
    changed: tuple[ChangedHazard, ...] = ()
    states: int = 0
    controls: Setup | None = None  # with the controls of both, by the names that `where` and witnesses use
    reports: tuple[Report, ...] = field(default=(), repr=False)  # the lints of the old and of the new, in the library

    @property
    def differs(self) -> bool:
        """Whether the craft, or what is known to be wrong with it, is not the same."""
        return bool(self.changes or self.gained or self.lost or self.hidden or self.changed) or not (
            self.old and self.new
        )

    @property
    def failing(self) -> tuple[Finding, ...]:
        """What a gate fails for: hazards gained, and those that are another now, unless waived or in the baseline."""
        return (*self.gained, *(change.now for change in self.changed if change.is_open))

    def __str__(self) -> str:
        """As `setuplint compare` prints it, where the library made it; otherwise as a record."""
        return str(RENDERERS["comparison text"](self)) if self.reports else repr(self)

    def _repr_html_(self) -> str | None:
        """How a notebook shows it; None, so as text, where the library did not make it."""
        return RENDERERS["comparison"](self) if self.reports else None


KINDS = ("intent", "start", "mode", "alarm", "timer", "written")  # as they are told, after the motor and the collective


def gravest_first(changes: Iterable[CraftChange]) -> tuple[CraftChange, ...]:
    """The motor's outputs, the collective's, what stops and starts the craft, what the other channels put out, and the rest."""

    def rank(change: CraftChange) -> float:
        if change.kind == "output":
            return {"motor": -2.0, "collective": -1.0}.get(change.drives, 2.5)
        return KINDS.index(change.kind)

    return tuple(sorted(changes, key=rank))
