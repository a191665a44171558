"""Several comparisons told together: the gravest first, and what is the same in several setups once, with their names."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from setuplint.comparison.changes import Comparison
from setuplint.findings import SIGNALS
from setuplint.formats.document import Block, Bullets, DetailedItem, FindingItem, Heading, ListItem, Paragraph
from setuplint.formats.numbers import counted
from setuplint.named_tuple import NamedTuple

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
