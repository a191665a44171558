"""What a card may cost: counts of what is looked at, never a clock. What is not reached is left out, and the card says so."""

from __future__ import annotations

from setuplint.budget import OutOfBudget, Spent
from setuplint.dataclass import dataclass
from setuplint.setup.model import Setup

LOOKS_A_STAGE = 300_000  # parts of the setup, over all movements that are tried, and items looked for in rows
QUESTIONS_A_STAGE = 300_000  # parts of the setup, over all questions to the engine
LOOK = 4  # units of a file's work
BEYOND = "there is more to show than one card may cost"


@dataclass(slots=True)
class CardWork:
    """What has been used up of one budget. Where there is no `most`, it is counted all the same; with a `file`, of its work
    too."""

    most: int | None = None
    done: int = 0
    file: Spent | None = None

    @property
    def spent(self) -> bool:
        return (self.most is not None and self.done > self.most) or (self.file is not None and self.file.over)

    def add(self, looks: int) -> None:
        """OutOfBudget where that is too much."""
        self.done += looks
        if self.file is not None:
            self.file.charge(LOOK * looks)
        if self.spent:
            raise OutOfBudget(BEYOND)


def setup_size(setup: Setup) -> int:
    """How many parts one evaluation looks at, and a row tells of."""
    tables = (setup.conditions, setup.overrides, setup.channels, setup.modes, setup.alarms, setup.timers)
    return 1 + sum(map(len, tables)) + len(setup.switches) + len(setup.sticks) + len(setup.sensors)
