"""One state as literals: for questions that no formula says, such as whether two states differ in an output.

A question is a function from a `Frame` to a literal; `Search.ask` finds a state in which that holds.
"""

from __future__ import annotations

from setuplint.solver.frame import Frame
from setuplint.solver.sat import FALSE, TRUE, UNKNOWN, Rails, known
from setuplint.solver.waits import FirstMoment

__all__ = ["FALSE", "TRUE", "UNKNOWN", "FirstMoment", "Frame", "Rails", "known"]
