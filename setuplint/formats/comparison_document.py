"""A comparison as a document: hazards first, then each difference with a case to try, then what is the same; of several
setups, what they have in common once."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence

from setuplint.club.policy_changes import PolicyChange
from setuplint.comparison.changes import ChangedHazard, Comparison, CraftChange
from setuplint.findings import SIGNALS, Finding, Report
from setuplint.formats.change_words import ChangeWords, proved_same
from setuplint.formats.document import (
    Block,
    Bullets,
    DetailedItem,
    FindingItem,
    Fold,
    Heading,
    ListItem,
    Paragraph,
    Sentence,
)
from setuplint.formats.finding_text import finding_item
from setuplint.formats.numbers import counted
from setuplint.formats.terminal import plain
from setuplint.named_tuple import NamedTuple
from setuplint.setup.problems import capitalised

MISSING = re.compile(r" names (“.*”), which nothing declares$")
MOST = 40  # changes of one set-up in a brief document


def comparison_document(
    comparison: Comparison, reports: Sequence[Report], values: Mapping[str, object], *, brief: bool = False
) -> Iterator[Block]:
    """`reports` are the lints of the old and of the new file, as far as they exist; `values` the controls of both. A `brief`
    document has at most MOST changes, and what was not compared comes before what is the same."""
    yield Heading(3, headline(comparison))
    for title, findings, report in (
        ("Hazards gained", comparison.gained, reports[-1]),
        ("Hazards gone", comparison.lost, reports[0]),
    ):
        if findings:
            yield Paragraph(title, "label")
            yield Bullets([finding_item(report, finding) for finding in findings])
    if comparison.changed:
        yield Paragraph("Hazards of both that are not the same", "label")
        yield Bullets([_changed_item(reports[-1], change) for change in comparison.changed])
    if comparison.hidden:
        yield Paragraph("Waived or in the baseline, so that they fail nothing", "label")
        yield Bullets([_hidden_item(reports[-1], finding) for finding in comparison.hidden])
    if comparison.changes:
        shown = comparison.changes[: MOST if brief else None]
        words = ChangeWords(comparison, values)
        items: list[ListItem] = [_change_item(words, change) for change in shown]
        left = len(comparison.changes) - len(shown)
        items += [f"and {counted(left, 'more difference')}"] if left else []
        if comparison.gained or comparison.lost or comparison.hidden or comparison.changed:
            yield Paragraph("Differences", "label")
        yield Bullets(items)
    renamed, same, not_compared = (tuple(sentences(comparison)) for sentences in (_renamed, _same, _not_compared))
    notes = (*renamed, *not_compared, *same) if brief else (*renamed, *same, *not_compared)
    if notes:
        yield Fold("Everything else", (Bullets(notes),))


def _change_item(words: ChangeWords, change: CraftChange) -> DetailedItem:
    text = words.text_of(change)
    return DetailedItem(text.what, text.details)


def _changed_item(report: Report, change: ChangedHazard) -> DetailedItem:
    hidden = () if change.is_open else (_why_hidden(change.now),)
    return DetailedItem(_finding_words(report, change.now), [("before", change.before.message), *hidden])


def _hidden_item(report: Report, finding: Finding) -> DetailedItem:
    return DetailedItem(_finding_words(report, finding), [_why_hidden(finding)])


def _finding_words(report: Report, finding: Finding) -> str:
    item = finding_item(report, finding)
    return f"{item.place}: {item.signal}: {item.message} [{item.rule}]"


def _why_hidden(finding: Finding) -> tuple[str, str]:
    waiver = finding.waiver
    if waiver is None:
        return "hidden", "in the baseline"
    until = f"until {waiver.until}" if waiver.until else "without an end"
    return "waived", f"{until}: {waiver.reason}"


def policy_document(changes: Sequence[PolicyChange], said: str, *, brief: bool = False) -> Iterator[Block]:
    """What a change does to that by which setups are judged; `said` is what they are compared with."""
    if said:
        yield Paragraph(said)
    if not changes:
        return
    yield Heading(2, f"What setups are judged by: {counted(len(changes), 'change')}.")
    shown = changes[: MOST if brief else None]
    items: list[ListItem] = [_policy_words(change) for change in shown]
    left = len(changes) - len(shown)
    yield Bullets([*items, *([f"and {left:,} more"] if left else [])])


def _policy_words(change: PolicyChange) -> str:
    signal = f"{change.signal}: " if change.signal else ""
    where = f" (for setups in {', '.join(change.folders)})" if change.folders else ""
    return f"{signal}{change.message}{where}"


def _renamed(comparison: Comparison) -> Iterator[Sentence]:
    for kind, old, new in comparison.matching.renamed():
        if any(f"(it is {new} now)" in finding.message for finding in comparison.gained):
            continue  # what uses it was not, and that is told
        words = f"{kind} {old} is {new} now"
        yield Sentence(f"Renamed: {words}. That is not a change.", f"{words}: that is not a change")


def _same(comparison: Comparison) -> Iterator[Sentence]:
    proved = proved_same(comparison)
    if proved:
        yield _sentence(
            f"proved the same in all {counted(comparison.states, 'state')} of the controls: {', '.join(proved)}"
        )
    if comparison.kept:
        findings = counted(comparison.kept, "finding")
        yield Sentence(f"In both: {findings}; lint says which.", f"{findings} of both")


def _not_compared(comparison: Comparison) -> Iterator[Sentence]:
    causes: dict[str, list[str]] = {}
    for each in comparison.open:
        missing = MISSING.search(each.because)
        because = f"for want of {missing[1]}, which nothing declares" if missing else each.because
        causes.setdefault(because, []).append(each.subject)
    for because, subjects in causes.items():
        about = ", ".join(filter(None, dict.fromkeys(subjects)))
        yield _sentence(f"not compared: {about + ': ' if about else ''}{because}")


def _sentence(words: str) -> Sentence:
    return Sentence(f"{capitalised(words)}.", words)


def headline(comparison: Comparison) -> str:
    """`old -> new: 3 differences; 1 danger gained`"""
    old, new = plain(comparison.old), plain(comparison.new)
    if not comparison.old:
        hidden = f"; hidden: {_by_signal(comparison.hidden)}" if comparison.hidden else ""
        return f"{new} is new: {_by_signal(comparison.gained) or 'nothing found in it'}{hidden}."
    if not comparison.new:
        return f"{old} is gone."
    name = new if old == new else f"{old} -> {new}"
    counts = [counted(len(comparison.changes), "difference") if comparison.changes else _same_words(comparison)]
    changed = [change.now for change in comparison.changed]
    sums = (
        ("gained", comparison.gained), ("changed", changed), ("hidden", comparison.hidden), ("gone", comparison.lost)
    )  # fmt: skip
    for word, findings in sums:
        if findings:
            counts.append(f"{_by_signal(findings)} {word}")
    return f"{name}: {'; '.join(counts)}."


def _same_words(comparison: Comparison) -> str:
    if comparison.same is None:
        return "what the craft does could not be compared"
    return f"the same behaviour{', of what could be compared' if comparison.open else ''}"


def _by_signal(findings: Sequence[Finding]) -> str:
    counts = {signal: sum(finding.signal == signal for finding in findings) for signal in SIGNALS}
    return ", ".join(counted(count, signal) for signal, count in counts.items() if count)


MOST_NAMED, MOST_PLACES = 20, 5  # setups that are named for what is the same in them, and places of a finding
MOST_LISTED = 500  # setups of which all is told

Key = tuple[str, ListItem]  # the label that an item stands under, and the item without its place
Shared = Mapping[Key, Mapping[str, str]]  # the setups that have it, each with the place there


class ComparedSetup(NamedTuple):
    """A comparison as a document, and what it is about."""

    name: str
    gravest: int  # of what fails, by SIGNALS; more than all of them where nothing is
    blocks: Sequence[Block]
    is_open: bool = False  # something was not compared


def compared_setup(comparison: Comparison, blocks: Sequence[Block]) -> ComparedSetup:
    found = [SIGNALS.index(finding.signal) for finding in comparison.failing]
    return ComparedSetup(
        comparison.new or comparison.old, min(found, default=len(SIGNALS)), blocks, bool(comparison.open)
    )


def told_once(compared: Sequence[ComparedSetup]) -> Iterator[Sequence[Block]]:
    """A document for what is the same in several setups, if anything is; then one for each setup that has more, and a last one
    that names the others."""
    ordered = sorted(compared, key=lambda each: each.gravest)
    holders: dict[Key, dict[str, str]] = {}
    for each in ordered:
        for key, place in _items(each.blocks):
            holders.setdefault(key, {}).setdefault(each.name, place)
    shared = {key: places for key, places in holders.items() if len(places) > 1}
    if shared:
        yield list(_shared_blocks(shared))
    whole: list[str] = []
    for each in ordered:
        own = list(_own_blocks(each, shared))
        if len(own) == 1 and shared and len(each.blocks) > 1:
            whole.append(each.name)
        else:
            yield own
    if whole:
        yield [Bullets([f"Told above is all that is different in {_listed(whole, MOST_LISTED)}"])]


def _items(blocks: Sequence[Block]) -> Iterator[tuple[Key, str]]:
    """The differences and findings of a document, each with its place."""
    label = ""
    for block in blocks:
        if isinstance(block, Bullets):
            for item in block.items:
                if not isinstance(item, str):
                    yield (label, _bare(item)), item.place if isinstance(item, FindingItem) else ""
        label = str(block.words) if isinstance(block, Paragraph) else ""


def _bare(item: ListItem) -> ListItem:
    """The item to be compared with others, whatever its place."""
    if isinstance(item, FindingItem):
        return item._replace(place="", file="", line=0)
    return DetailedItem(item.words, tuple(item.details)) if isinstance(item, DetailedItem) else item


def _shared_blocks(shared: Shared) -> Iterator[Block]:
    by_names: dict[tuple[str, ...], dict[str, list[ListItem]]] = {}
    for (label, item), places in shared.items():
        if isinstance(item, FindingItem):
            item = item._replace(place=_listed([*dict.fromkeys(places.values())], MOST_PLACES))
        by_names.setdefault(tuple(places), {}).setdefault(label, []).append(item)
    for names, labels in by_names.items():
        yield Heading(3, f"The same in {counted(len(names), 'setup')} ({_listed(names, MOST_NAMED)}):")
        for label, items in labels.items():
            if label:
                yield Paragraph(label, "label")
            yield Bullets(items)


def _listed(words: Sequence[str], most: int) -> str:
    more = f" and {len(words) - most:,} more" if len(words) > most else ""
    return f"{', '.join(words[:most])}{more}"


def _own_blocks(compared: ComparedSetup, shared: Shared) -> Iterator[Block]:
    """A setup's document without what is told for several; a list of which nothing is left goes with its label, and where nothing
    of its own is left, so does what is the same."""
    own: list[Block] = []
    above = kept = 0
    label: Paragraph | None = None
    for block in compared.blocks:
        if isinstance(block, Bullets):
            words = str(label.words) if label else ""
            left = [item for item in block.items if (words, _bare(item)) not in shared]
            above, kept = above + len(block.items) - len(left), kept + len(left)
            own += [*([label] if label else []), Bullets(left)] if left else []
        elif not isinstance(block, Paragraph):
            own.append(block)
        label = block if isinstance(block, Paragraph) else None
    for block in own:
        if above and isinstance(block, Heading):
            yield block._replace(
                words=f"{block.words[:-1]}; {'all of it' if not kept else f'{above:,} of that'} is told above."
            )
        elif not above or kept or compared.is_open:
            yield block
