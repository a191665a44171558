"""How much work a file may take: counts, never a clock, so that an answer is the same on every machine (MEANING.md 9).

One count serves all that is done for a file. A unit is about what a dozen lines of Python cost. Once it is spent, nothing
more is answered: half of a question may have been put into clauses by then. A comparison of two files, which have both to be
read, has three fifths of that: each of the two lints gets its part, alike, so that neither is judged less than the other;
what they leave is for the rest. A page has one budget too: notes of a report and then its outputs, or a bench card, have what
was left before them, but for a quarter, and at least a sixteenth.
"""

from __future__ import annotations

from setuplint.dataclass import dataclass, field

CONFLICTS_A_CALL = 5_000
CONFLICTS_A_QUESTION = 20_000
CONFLICTS_A_FILE = 30_000  # once these are spent, a search gets CONFLICTS_THEN: enough for what is not made to be hard
CONFLICTS_THEN = 200
WORK_A_FILE = 5_000_000
WORK_A_QUESTION = 2_000_000  # so that one hard question leaves something for the others

# What is done, in units of work.
CALL = 8  # of the solver
VARIABLE = 12  # of the solver: what it takes in memory counts too
CLAUSE = 2
GATE = 4  # asked for, be it new or known
PART = 8  # put into a frame, or walked to by a question
PAIR = 4  # of formulas that may hold together
PACK = 150  # asked about by one rule
QUESTION = 60  # to the engine, however soon it is answered
BOX = 40  # halved where sums of several sticks meet
PLACE = 5  # of one stick, at which its part of a sum is worked out
PROPAGATIONS_A_UNIT = 16
MANY = 20_000  # variables of a solver, more than a processor keeps at hand
PROPAGATIONS_OF_MANY = 4  # a unit, in such a solver
VARIABLES_OF_MANY = 20  # a unit, for each conflict in such a solver: most of them are given up and assigned again
VALUES_A_UNIT = 32  # of an assignment that is read


class OutOfBudget(Exception):
    """A question used up its budget (counts, never a clock); str() says of what."""


@dataclass(slots=True)
class Spent:
    """What a file has used up, in all solvers that served it."""

    work: int = 0
    conflicts: int = 0
    looks: int = 0  # parts of a setup that the timed simulator looked at
    saved: int = 0  # work that was done before: its answers were kept
    boxes: int = 0  # halved where sums of several sticks meet
    most: int = field(default_factory=lambda: WORK_A_FILE)  # of work
    by: str = "this file used up its"  # what is said of the work once there is none left

    @property
    def over(self) -> bool:
        """Whether nothing more is answered."""
        return self.work > self.most

    def charge(self, work: int) -> None:
        """Count work that is about to be done. OutOfBudget where there is none left to do."""
        self.work += work
        if self.work > self.most:  # as in `over`, without another call: nothing is called as often as this
            raise OutOfBudget(f"{self.by} {self.most:,} units of work")


def for_one_of_two() -> Spent:
    """For either lint of a comparison, and for that of a file of which a card is made."""
    return Spent(most=WORK_A_FILE // 5)


def for_comparison(before: int, after: int) -> Spent:
    """For a comparison, once its two lints took that much: both files have to be read, so it is less than a lint of one."""
    return Spent(work=before + after, most=WORK_A_FILE * 3 // 5, by="the two files used up their")


def after(work: int) -> Spent:
    """For what comes after that much of a file's work; a quarter is kept back for writing the page."""
    return Spent(work=min(work + WORK_A_FILE // 4, WORK_A_FILE * 15 // 16))
