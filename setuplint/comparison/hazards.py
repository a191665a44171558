"""What lint finds in one of two setups alone, and what it judged in the old one and does not judge in the new one; and
claims that are gone, or weaker."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from operator import attrgetter

from setuplint.book.choices import Choices
from setuplint.book.unjudged import nearest_declared
from setuplint.budget import Spent
from setuplint.comparison.changes import ChangedHazard
from setuplint.comparison.matching import KINDS, Matching, noun
from setuplint.dataclass import replace
from setuplint.findings import SIGNALS, Finding, NotJudged, Place, Report
from setuplint.hints import TYPE_CHECKING
from setuplint.named_tuple import NamedTuple
from setuplint.setup.formulas import FormulaError
from setuplint.setup.model import Claim, Setup

if TYPE_CHECKING:
    from setuplint.setup.formula_parser import Atom


class HazardChange(NamedTuple):
    """The findings of the new setup alone, of the old one alone, and how many are of both. `hidden` are those of the new one
    that a waiver or the baseline keeps from failing, and did not before; `changed` those of both that are not the same."""

    gained: tuple[Finding, ...]
    lost: tuple[Finding, ...]
    kept: int
    hidden: tuple[Finding, ...]
    changed: tuple[ChangedHazard, ...] = ()


def hazard_change(
    before: Report, after: Report, matching: Matching, setups: tuple[Setup, Setup], spent: Spent
) -> HazardChange:
    """By rule and subject. Where tables stand in another order, subjects may name another of several parts: then it is the
    words of the message that say. What was judged and is not any more is gained: silence about it is no safety."""
    gained, lost = list(_all_findings(after)), list(_all_findings(before))
    total, both = len(gained), list[tuple[Finding, Finding]]()
    for text_of in (attrgetter("subject"), attrgetter("message")):
        twins = dict(_twins(lost, gained, text_of, matching))
        both += [(lost[old], gained[new]) for old, new in twins.items()]
        there = set(twins.values())
        lost = [finding for n, finding in enumerate(lost) if n not in twins]
        gained = [finding for n, finding in enumerate(gained) if n not in there]
    kept = total - len(gained)
    known = {id(finding) for finding in (*after.waived, *after.baselined)}
    waived = (twin for finding, twin in both if finding.waiver is None and twin.waiver is not None)
    hidden = (*(finding for finding in gained if id(finding) in known), *waived)
    changed = [ChangedHazard(*pair, id(pair[1]) not in known) for pair in _changed_pairs(both, matching)]
    open_now = [finding for finding in gained if id(finding) not in known]
    if after.texts.is_unread and not before.texts.is_unread:
        told = tuple(nothing_judged(open_now))
    else:
        claims = list(claims_no_more(before, after, matching, *setups, spent))
        lost = [each for each in lost if (each.rule, each.subject) not in {(x.rule, x.subject) for x in claims}]
        new = setups[1]
        gaps = folded_gaps(open_now, _judged_no_more(before, after, matching, new), matching, new)
        told = _gravest_first([*gaps, *claims])
    changed.sort(key=lambda each: SIGNALS.index(each.now.signal))
    return HazardChange(told, _gravest_first(lost), kept, hidden, tuple(changed))


def _twins(
    lost: Sequence[Finding], gained: Sequence[Finding], text_of: Callable[[Finding], str], matching: Matching
) -> Iterator[tuple[int, int]]:
    """The places of findings that are of both, each with the first that says the same of it."""
    waiting: dict[tuple[str, str], list[int]] = {}
    for place in range(len(gained) - 1, -1, -1):
        waiting.setdefault((gained[place].rule, _sorted_words(text_of(gained[place]))), []).append(place)
    for place, texts in enumerate(matching.called(map(text_of, lost))):
        keys = {(lost[place].rule, _sorted_words(text)) for text in texts}
        alike = [waiting[key] for key in keys if waiting.get(key)]
        if alike:
            yield place, min(alike, key=lambda places: places[-1]).pop()


def _changed_pairs(pairs: Iterable[tuple[Finding, Finding]], matching: Matching) -> Iterator[tuple[Finding, Finding]]:
    """Those that do not say the same, whatever parts are called now."""
    other = [pair for pair in pairs if pair[0].message != pair[1].message]
    if not other:
        return
    texts = matching.without_new_names(finding.message for pair in other for finding in pair)
    for pair, before, now in zip(other, texts, texts, strict=True):
        if _sorted_words(before) != _sorted_words(now):
            yield pair


def _gravest_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    return tuple(sorted(findings, key=lambda finding: SIGNALS.index(finding.signal)))


def _judged_no_more(before: Report, after: Report, matching: Matching, new: Setup) -> Iterator[NotJudged]:
    """The rules and subjects that were judged before."""
    called = matching.called(note.subject for note in before.not_judged)
    open_before = {(note.rule, name) for note, names in zip(before.not_judged, called, strict=True) for name in names}
    undecided = {x.subject.partition(" ")[0] for x in _all_findings(before) if x.rule == "not-decided"}
    told, shared = set(), matching.new_names()
    for note in after.not_judged:
        key = note.rule, note.subject
        known = key in told or key in open_before or (note.rule, "") in open_before or note.rule in undecided
        if not known and not _is_new_part(note.subject, shared, new):
            told.add(key)
            yield note


def _is_new_part(name: str, shared: Mapping[str, set[str]], new: Setup) -> bool:
    """Whether it names a part that the old setup does not have: nothing was judged of that."""
    kinds = [kind for kind in KINDS if name in getattr(new, kind)]
    return bool(kinds) and not any(name in shared[kind] for kind in kinds)


def _sorted_words(text: str) -> str:
    return " ".join(sorted(text.replace(",", " ").replace(":", " ").split()))


def _all_findings(report: Report) -> Iterable[Finding]:
    return (*report.findings, *report.waived, *report.baselined)


MISTAKES = ("unknown-name", "not-a-setup", "not-toml", "name-clash")  # rules that say why something cannot be read
NAMED = re.compile("“([^”]+)”")


def folded_gaps(
    gained: Sequence[Finding], gaps: Iterable[NotJudged], matching: Matching, new: Setup
) -> Iterator[Finding]:
    """The findings gained, a mistake with all that is not judged for it; then the gaps that have no such mistake, by cause."""
    causes = [finding for finding in gained if finding.rule in MISTAKES]
    lost = (finding for finding in causes if finding.rule == "not-toml" and () in new.broken)
    anything = next(lost, None)  # a line that may have held anything
    resting: dict[int, list[NotJudged]] = {}
    alone: dict[str, list[NotJudged]] = {}
    for gap in gaps:
        cause = next((finding for finding in causes if _rests_on(gap, finding)), anything)
        if cause is None:
            alone.setdefault(gap.because, []).append(gap)
        else:
            resting.setdefault(id(cause), []).append(gap)
    for finding in gained:
        named = finding
        if finding.rule == "unknown-name":
            named = replace(finding, message=finding.message + _new_name(finding, matching))
        yield _with_gaps(named, resting[id(finding)]) if id(finding) in resting else named
    for because, some in alone.items():
        yield _gap(because, some, new)


def new_hazards(report: Report, new: Setup) -> Iterator[Finding]:
    """The findings of a setup that was not there before, and what may be a danger of it and is not judged, by cause."""
    if report.texts.is_unread:
        yield from nothing_judged(report.findings, "")
        return
    causes: dict[str, list[NotJudged]] = {}
    for note in report.open_dangers:
        causes.setdefault(note.because, []).append(note)
    for because, some in causes.items():
        said = f"{because}; what rests on it is not judged: {_listed(some)}"
        place = Place(nearest_declared(new, because.partition(" ")[0]))
        yield Finding(some[0].rule, SIGNALS[0], said, some[0].subject, place)
    yield from report.findings


def nothing_judged(gained: Iterable[Finding], again: str = " any more") -> Iterator[Finding]:
    """The findings of a file of which nothing can be read: rules about danger are not judged, or not any more, so it is one."""
    for finding in gained:
        if finding.rule in MISTAKES:
            end = "" if finding.message.endswith(".") else ";"
            message = f"{finding.message}{end} {'nothing' if end else 'Nothing'} of the set-up is judged{again}"
            yield replace(finding, signal="danger", message=message)
        else:
            yield finding


def _rests_on(gap: NotJudged, mistake: Finding) -> bool:
    """Whether it is for a mistake that it is not judged: by the name that is missing, by the key, or by the part."""
    name = NAMED.search(mistake.message)
    if mistake.rule == "unknown-name" and name and f"names {name[0]}, which" in gap.because:
        return True
    part = mistake.primary.path[:2]
    words = {gap.because.partition(" ")[0], *gap.because.split(", ")[0].split(" ")}
    return len(part) == 2 and (
        any(word == ".".join(map(str, part)) or word.startswith(f"{part[0]}.{part[1]}.") for word in words)
        or part[1] in gap.subject.split()
    )


def _new_name(mistake: Finding, matching: Matching) -> str:
    """That what is missing goes by another name now."""
    name = NAMED.search(mistake.message)
    for kind in KINDS if name else ():
        now = getattr(matching, kind).get(name[1]) if name else None
        if now is not None and name and now != name[1] and f"no {noun(kind)} " in mistake.message:
            return f" (it is {now} now)"
    return ""


def _with_gaps(mistake: Finding, gaps: list[NotJudged]) -> Finding:
    signal = min(mistake.signal, *(gap.signal for gap in gaps), key=SIGNALS.index)
    message = f"{mistake.message}; what rests on it was judged before, and is not any more: {_listed(gaps)}"
    return replace(mistake, signal=signal, message=message)


def _gap(because: str, gaps: list[NotJudged], new: Setup) -> Finding:
    first = min(gaps, key=lambda gap: SIGNALS.index(gap.signal))
    place = Place(nearest_declared(new, because.partition(" ")[0]))
    of = f" of {first.subject}" if first.subject else ""
    said = f"this was judged{of} before, and is not any more: {because}"
    if len(gaps) > 1:
        said = f"{because}; what rests on it was judged before, and is not any more: {_listed(gaps)}"
    return Finding(first.rule, first.signal, said, first.subject, place)


def _listed(gaps: Iterable[NotJudged]) -> str:
    """`2 dangers (hold-bypassed, hold-idles), 1 notice (mode-jump)`"""
    rules = {signal: sorted({gap.rule for gap in gaps if gap.signal == signal}) for signal in SIGNALS}
    return ", ".join(
        f"{len(names)} {signal}{'s' * (len(names) > 1)} ({', '.join(names)})"
        for signal, names in rules.items()
        if names
    )


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
