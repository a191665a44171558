"""Claims of the old setup that the new one does not make any more: what was guaranteed, and is not judged now."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress

from setuplint.book.choices import Choices
from setuplint.book.unjudged import nearest_declared
from setuplint.budget import Spent
from setuplint.comparison.matching import Matching
from setuplint.dataclass import replace
from setuplint.findings import Finding, Place, Report
from setuplint.hints import TYPE_CHECKING
from setuplint.setup.formulas import FormulaError
from setuplint.setup.model import Claim, Setup

if TYPE_CHECKING:
    from setuplint.setup.formula_parser import Atom

RULE = "claim-broken"
ALONE = 1_000_000  # the place of a claim that stands in no file
MOST_PAIRS = 200  # of an old and a new claim, of which it is asked whether one says what the other does
MOST_CASES = 2000  # that are looked at for each


def claims_no_more(
    before: Report, after: Report, matching: Matching, old: Setup, new: Setup, spent: Spent
) -> Iterator[Finding]:
    """One finding for each that is gone, and for each that is weaker now and false, as it was, of the new setup. One that says
    the same in other words is neither; nor is a narrower one where the wide one was found false in either."""
    there = {claim.subject: claim.patience for claim in new.claims}
    unjudged = {note.subject for note in before.not_judged if note.rule == RULE}
    wider = [claim for claim in old.claims if there.get(claim.subject, claim.patience + 1) > claim.patience]
    judged = [claim for claim in wider if not unjudged & {claim.subject, ""}]
    if not judged:
        return
    says = _Implied()
    named = [replace(claim, subject=_by_new_names(claim.subject, matching)) for claim in judged]
    changed = [claim for claim in named if not says.made(claim, new.claims)]
    cases = _broken(changed, after, new, spent)
    known = _broken_subjects(before) | _broken_subjects(after)
    for n, claim in enumerate(changed):
        case = cases.get(n)
        if not says.weaker(claim, new.claims):
            yield _gone_finding(claim, case, new)
        elif case is not None and claim.subject not in known:
            yield replace(case, message=f"{case.message}: that was claimed before, and less is now")


def _by_new_names(text: str, matching: Matching) -> str:
    """The formula with what the parts are called now."""
    from setuplint.setup.formula_parser import parsed_formula, written_atoms

    controls = {**matching.switches, **matching.sticks, **matching.sensors}
    now, at = "", 0
    try:
        written = parsed_formula(text)
    except FormulaError:  # as "not (...)" it is too long
        return text
    for atom in written_atoms(written):
        for word, names in zip(atom.words, _names_of(atom, controls, matching), strict=False):
            now += text[at : word.start] + names.get(word.text, word.text)
            at = word.end
    return now + text[at:]


def _names_of(atom: Atom, controls: Mapping[str, str], matching: Matching) -> Sequence[Mapping[str, str]]:
    """What each of its words may be called now."""
    return {
        "name": (matching.conditions,),
        "is": (controls, matching.positions.get(atom.words[0].text, {})),
        "compare": (controls,),
        "mode": ({}, matching.modes),
        "output": ({}, matching.channels),
        "follows": (matching.channels, {}, controls),
    }.get(atom.kind, ())


def _broken_subjects(report: Report) -> set[str]:
    return {each.subject for each in (*report.findings, *report.waived, *report.baselined) if each.rule == RULE}


class _Implied:
    """Which claims say what others do; counted, and what is not asked any more counts as no."""

    def __init__(self) -> None:
        self.left = MOST_PAIRS

    def made(self, claim: Claim, claims: Sequence[Claim]) -> bool:
        """Whether other claims deny all that this one does, and are as impatient."""
        others = [each.subject for each in claims if each.patience <= claim.patience]
        ways = [*([each] for each in others), *([others] if len(others) > 1 else [])]
        return any(self.implies(claim.subject, way) for way in ways)

    def weaker(self, claim: Claim, claims: Sequence[Claim]) -> bool:
        """Whether some claim denies a part of what this one did."""
        return any(self.implies(each.subject, [claim.subject]) for each in claims)

    def implies(self, one: str, others: Sequence[str]) -> bool:
        from setuplint.book.implication import implies

        self.left -= 1
        return one in others or (self.left >= 0 and implies(one, others, MOST_CASES))


def _broken(claims: Sequence[Claim], after: Report, new: Setup, spent: Spent) -> dict[int, Finding]:
    """What a lint says of those that would be false of the new setup, if that made them; by their places."""
    from setuplint.book.run import lint
    from setuplint.engine.decider import Decider

    if not claims or spent.over:
        return {}
    reader, made = Decider(new, spent), list[Claim]()
    for n, claim in enumerate(claims):
        with suppress(FormulaError):  # it names what is not there any more
            made.append(replace(claim, never=reader.formula(claim.subject), index=ALONE + n))
    setup = replace(new, claims=tuple(made))
    found = lint(after.texts, setup, (), only={RULE}, choices=Choices(waive=False), spent=spent).findings
    place = Place(nearest_declared(new, "claims"))
    return {int(each.primary.path[1]) - ALONE: replace(each, primary=place) for each in found if each.rule == RULE}


def _gone_finding(claim: Claim, case: Finding | None, new: Setup) -> Finding:
    if case is not None:
        return replace(case, message=f"{case.message}: that was claimed before, and is not any more")
    said = f"the claim that “{claim.subject}” is never so was judged before, and is not any more: it is gone"
    return Finding(RULE, "caution", said, claim.subject, Place(nearest_declared(new, "claims")))
