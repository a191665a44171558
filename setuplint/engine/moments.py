"""Whether a formula can hold for longer than a patience, on the way to a settled state too (MEANING.md 8, *Moments*).

A proof takes one frame in which all controls may change: slow conditions late or lingering as they like, all else settled. A
finding is a run of the timed simulator from power-up. What is neither is not decided, and the slow conditions are named.
"""

from __future__ import annotations

from setuplint.budget import OutOfBudget
from setuplint.engine.answers import IMPOSSIBLE, Answer, InTime
from setuplint.engine.begun import UNBEGUN
from setuplint.engine.search import Search
from setuplint.hints import TYPE_CHECKING
from setuplint.setup import formulas as f
from setuplint.setup.cone import Cone
from setuplint.setup.model import ZERO
from setuplint.solver.frame import Frame
from setuplint.solver.reach import Question
from setuplint.solver.slowness import Slowness

if TYPE_CHECKING:
    from setuplint.engine.moment_proofs import MomentSearch


def answer(search: Search, asked: InTime) -> Answer:
    """The answer for settled states, where that is a case or no condition is slow; else the answer for moments."""
    settled = search.find(asked.formula, at_power_up=asked.at_start, trim=asked.trim)
    cone = search.cone([asked.formula])
    pace = search.paces.slowness(cone, asked.patience, aloft=asked.aloft)
    if settled.found or not pace.slow:
        return settled
    if asked.at_start and settled.because == (UNBEGUN,):  # what runs come to is all there is
        settled = Answer(IMPOSSIBLE)
    return _search(search, asked, pace, cone).answer(settled)


def never(search: Search, formula: f.Formula) -> bool:
    """Whether the formula is proved to hold in no moment, however short, and to be known in all of them."""
    if not search.find(formula).impossible:
        return False

    def perhaps(frame: Frame) -> int:
        return -frame.truth(formula)[1]

    return never_shown(search, perhaps, search.cone([formula]))


def never_shown(search: Search, question: Question, cone: Cone) -> bool:
    """Whether a literal of which no settled state is an example is proved to hold in no moment, however short."""
    pace = search.paces.slowness(cone, ZERO)
    if not pace.slow:
        return True
    moments = _search(search, InTime(f.FALSE, ZERO), pace, cone)
    moments.reach.sat.new_question()
    try:
        return moments.never(question(moments.any_instant(pace.slow)), pace.slow, thorough=True)
    except OutOfBudget:
        return False


def _search(search: Search, asked: InTime, pace: Slowness, cone: Cone) -> MomentSearch:
    from setuplint.engine.moment_proofs import MomentSearch  # late: most files have nothing slow

    return MomentSearch(search, asked, pace, cone)
