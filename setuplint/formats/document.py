"""The document model: the blocks that a sheet, a card, a comparison and the plain sections of a report consist of.

Words are plain text, also from a file: every writer escapes them. The writers are `document_text`, `document_markdown` and
`pages.document_html`. A `role` says what a block is for; in HTML it is its class. What a format has no form for is left out.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from setuplint.named_tuple import NamedTuple

# -- words


class Phrase(NamedTuple):
    """Words with a role, emphasis, or a link to a file in the same folder."""

    words: str
    role: str = ""
    strong: bool = False
    link: str = ""


class Deed(NamedTuple):
    """What a hand does, and what is then seen or heard; `danger` where that must not be."""

    words: str
    then: Sequence[str] = ()
    danger: bool = False


class Scales(NamedTuple):
    """One value on several scales, the first of them the main one. Its words are numbers and words of this program."""

    values: Sequence[str]


class Gap(NamedTuple):
    """An empty place in a table to write into. `key` is what a record calls it, `name` what it is of."""

    key: str = ""
    name: str = ""


Words = str | Phrase | Deed | Scales | Gap | Sequence[str | Phrase]


# -- items of a list


class FindingItem(NamedTuple):
    """A finding in one line; `place` is `path:line:column`. `file` and `line` are where a link leads, none without."""

    place: str
    signal: str
    message: str
    rule: str
    file: str = ""
    line: int = 0


class DetailedItem(NamedTuple):
    """Words with labelled details below them."""

    words: str
    details: Sequence[tuple[str, str]]


class Sentence(NamedTuple):
    """A sentence, and its short form for a list."""

    words: str
    brief: str


ListItem = str | FindingItem | DetailedItem | Sentence


# -- blocks


class Heading(NamedTuple):
    """`level` from 1; `number` stands before the words, 0 for none."""

    level: int
    words: str
    number: int = 0


class Paragraph(NamedTuple):
    """`lead` are words of this program that stand first, in bold."""

    words: Words
    role: str = ""
    lead: str = ""


class Facts(NamedTuple):
    """Short facts in one line."""

    items: Sequence[str]
    role: str = "soft"


class Bullets(NamedTuple):
    items: Sequence[ListItem]
    role: str = ""


class Labelled(NamedTuple):
    """Words under a label of this program's; left out where there are none."""

    label: str
    items: Sequence[str]


class Grid(NamedTuple):
    """A table; the first cell of each row names it. Where `turned` is given and there are many columns, a page makes each
    column a row, under that head."""

    heads: Sequence[str]
    rows: Sequence[Sequence[Words]]
    caption: str
    role: str = ""
    turned: str = ""


class Measured(NamedTuple):
    """A place to write what was measured, and what the file says of it."""

    words: str
    given: str
    key: str = ""  # what a record calls it: `craft.motor-off`


class SignLine(NamedTuple):
    """A line on paper to sign or date; `key` is what a record calls it: `by`, `on`, `notes`."""

    words: str
    key: str = ""


class Figure(NamedTuple):
    """A drawing; `draw` gives its SVG, for the formats that show it."""

    draw: Callable[[], str]


class CheckBox(NamedTuple):
    """One thing to tick; `again`: to repeat after any change, `short`: two stand side by side on paper; `mark` is what a record
    knows it by."""

    number: int
    title: str
    blocks: Sequence[Block]
    again: bool = False
    short: bool = False
    mark: str = ""


class Division(NamedTuple):
    """Blocks that belong together; `element` is what a page puts around them."""

    blocks: Sequence[Block]
    role: str = ""
    element: str = "section"


class Fold(NamedTuple):
    """Blocks that open at a click, where the format has that."""

    title: str
    blocks: Sequence[Block]


Block = (
    Heading | Paragraph | Facts | Bullets | Labelled | Grid | Measured | SignLine | Figure | CheckBox | Division | Fold
)


class Paper(NamedTuple):
    """A document to print: its blocks, and the values that stand for it in JSON. `styles` are the page's own; `escape` makes
    text harmless in Markdown, where that is not done as usual."""

    title: str
    blocks: Sequence[Block]
    values: Mapping[str, object]
    styles: Sequence[str] = ()
    escape: Callable[[str], str] | None = None
