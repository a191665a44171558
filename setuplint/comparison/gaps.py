"""What was judged before and is not any more, as findings: one for each cause, with the gravest signal of what rests on it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence

from setuplint.book.unjudged import nearest_declared
from setuplint.comparison.matching import KINDS, Matching, noun
from setuplint.dataclass import replace
from setuplint.findings import SIGNALS, Finding, NotJudged, Place, Report
from setuplint.setup.model import Setup

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
