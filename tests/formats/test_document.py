"""The document model: every writer says the same words, and nothing of a file is markup in any of them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from unicodedata import category

import pytest
from hypothesis import example, given
from lxml import html

from setuplint.formats.document import (
    Block,
    Bullets,
    CheckBox,
    Deed,
    DetailedItem,
    Division,
    Facts,
    Figure,
    FindingItem,
    Fold,
    Gap,
    Grid,
    Heading,
    Labelled,
    Measured,
    Paragraph,
    Phrase,
    Scales,
    Sentence,
    SignLine,
)
from setuplint.formats.document_markdown import document_markdown
from setuplint.formats.document_text import document_lines
from setuplint.formats.terminal import Look
from setuplint.pages.document_html import document_html
from tests.formats.test_markdown_report import EVIL, TEXTS, rendered


def document(words: str) -> list[Block]:
    """One of each block, with the same words in all of them."""
    rows = [[words, Gap()], [Deed(words, (words,), danger=True), Scales(("+16 %", "58", "1580 µs"))]]
    box = [Paragraph(Deed(words, (words,))), Grid((words, words), rows, words), Measured(words, words)]
    return [
        Division([Heading(1, words), Facts([words, words])], element="header"),
        Paragraph([words, Phrase(words, strong=True)]),
        Paragraph(words, "careful", lead="Then"),
        Labelled("Why", [words]),
        Labelled("Sources", [words, words]),
        Bullets([words, DetailedItem(words, [("where", words)])]),
        Division([CheckBox(3, words, box, again=True)], "boxes", "div"),
        Fold(words, [Paragraph(words)]),
    ]


def seen(page: html.HtmlElement) -> str:
    """The letters and digits that a reader sees, without what a writer puts between them."""
    return "".join(re.findall(r"[^\W_]", page.text_content()))


@given(TEXTS)
@example(EVIL)
@example("plain words of 3 parts")
def test_markdown_and_html_have_the_same_words(words: str) -> None:
    """Markdown as a host's renderer shows it, against the HTML of the same blocks; a drawn caption is hidden there."""
    blocks = document(" ".join(words.split()))  # Markdown knows one kind of space
    page = html.fragment_fromstring(document_html(blocks), create_parent="div")
    for caption in page.xpath(".//caption"):
        caption.getparent().remove(caption)
    made = rendered(document_markdown(blocks))
    assert seen(made) == seen(page)
    assert not made.xpath(".//a | .//script | .//img")
    assert not page.xpath(".//a | .//script | .//img | .//b[not(text()='Then')]")
    assert len(made.xpath(".//table//tr")) == len(page.xpath(".//table//tr")) == 3


@given(TEXTS)
@example(EVIL)
def test_text_has_one_line_an_item_and_nothing_that_drives_a_terminal(words: str) -> None:
    blocks = [
        Heading(1, words), Paragraph("Hazards gained", "label"),
        Fold(words, [Bullets([FindingItem(words, "danger", words, words), Sentence(words, words), words])]),
    ]  # fmt: skip
    lines = list(document_lines(blocks, Look(width=10_000)))
    assert len(lines) == 5
    assert not {category(char) for line in lines for char in line} & {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}


@pytest.mark.parametrize("block", [Measured("a", "b"), Figure(str), SignLine("a"), Paragraph("a")])
def test_text_refuses_what_it_has_no_form_for(block: Block) -> None:
    with pytest.raises(TypeError, match=type(block).__name__):
        list(document_lines([block], Look()))


def test_drawings_and_lines_to_sign_are_for_paper_alone() -> None:
    paper: Sequence[Block] = (Figure(lambda: "<svg></svg>"), SignLine("Checked by"))
    line = '<label>Checked by <input type="text" class="blank long" autocomplete="off"></label>'
    assert document_html(paper) == f'<figure><svg></svg></figure><p class="signed">{line}</p>'
    assert document_markdown(paper) == ""


def test_a_table_of_many_columns_is_turned_on_a_page() -> None:
    names = [f"c{n}" for n in range(6)]
    grid = Grid(["Do this", *names], [["up", *map(str, range(6))], ["down", *"uvwxyz"]], "Box 1", "reads", "Channel")
    page = html.fragment_fromstring(document_html([grid]), create_parent="div")
    rows = [[cell.text_content() for cell in row] for row in page.xpath(".//tr")]
    assert rows[0] == ["Channel", "1. up", "2. down"]
    assert rows[1:] == [[name, str(n), "uvwxyz"[n]] for n, name in enumerate(names)]
    narrow = Grid(["Do this", *names[:5]], [["up", *"01234"]], "Box 1", "reads", "Channel")
    assert '<th scope="col" role="columnheader">Do this</th>' in document_html([narrow])
