"""What lint finds in one of two setups alone, and what it judged in the old one and does not judge in the new one."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from operator import attrgetter

from setuplint.budget import Spent
from setuplint.comparison.changes import ChangedHazard
from setuplint.comparison.claims import claims_no_more
from setuplint.comparison.gaps import folded_gaps, nothing_judged
from setuplint.comparison.matching import KINDS, Matching
from setuplint.findings import SIGNALS, Finding, NotJudged, Report
from setuplint.named_tuple import NamedTuple
from setuplint.setup.model import Setup


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
