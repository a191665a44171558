"""What was meant by a line that cannot be read, or a word that is none: offered where the text then has fewer problems."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

from setuplint.findings import Finding
from setuplint.server.cursor import PIECE
from setuplint.server.edits import edited_text, line_end
from setuplint.source import Document, Span

MEANT = re.compile(r"[dD]id you mean “?([a-z0-9.<>=-]+(?: [a-z0-9-]+)*)”?\?")
GIVEN = re.compile(r"^Write (?:`(\[.*\])`|(true|false|inf|nan))\.$")
NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?")
NEXT_STATEMENT = re.compile(r"\[\[?[A-Za-z]|[A-Za-z0-9_\"'-][^=\[{,]*=")
MOST_LINES = 200  # of one list
LONGEST = 60  # characters of a title

Correction = tuple[str, str]  # what is written, and the text with it


def corrections(
    document: Document, span: Span, finding: Finding, problem_count: Callable[[str], int]
) -> Iterator[Correction]:
    """The first correction that leaves a text with fewer problems, if any."""
    before = -1
    for written, text in _candidates(document, span, finding):
        before = problem_count(document.text) if before < 0 else before
        if text != document.text and problem_count(text) < before:
            yield shortened(written), text
            return


def shortened(text: str) -> str:
    return text if len(text) <= LONGEST else text[: LONGEST - 3] + "..."


def _candidates(document: Document, span: Span, finding: Finding) -> Iterator[Correction]:
    text = document.text
    old, rest = text[span.start : span.end], rest_of_line(text, span.start)

    def with_text(new: str, length: int = len(old)) -> Correction:
        return new, edited_text(text, [(Span(span.start, span.start + length), new)])

    meant, given = MEANT.search(f"{finding.message} {finding.remedy}"), GIVEN.search(finding.remedy)
    if meant is not None:
        bare = NUMBER.fullmatch(meant.group(1)) or meant.group(1) in ("true", "false")
        quote = old[0] if old[:1] in ('"', "'") and not bare else ""
        yield meant.group(1), renamed_everywhere(document, finding, span, f"{quote}{meant.group(1)}{quote}")
    elif given is not None:
        yield with_text(given.group(1) or given.group(2))
    elif "Put text in quotes" in finding.remedy and '"' not in rest and "\\" not in rest:
        yield with_text(f'"{rest}"', len(rest))
        yield with_text(f'"{old}"')
    elif finding.remedy == "Delete the comma.":
        yield "no comma", with_text("")[1]
    elif "behind its end, on the same line" in finding.remedy:
        yield with_text(rest + old[:1], len(rest))
    elif re.search("This (list|table in braces) is not closed", finding.message):
        for block in _blocks(text, span.start):
            yield with_text(block + missing_brackets(block), len(block))
    elif finding.message.startswith("There is no `=` after") and rest.startswith(old):
        value = re.sub("^[ \t]*:?[ \t]*", "", rest[len(old) :])
        yield with_text(f"{old} = {value}", len(rest))
        yield with_text(f'{old} = "{value}"', len(rest))
    elif finding.remedy == "write the number without quotes" and NUMBER.fullmatch(old.strip("\"'")):
        yield with_text(old.strip("\"'"))
    elif finding.remedy == "begin it with format = 1":
        yield "format = 1", f"format = 1{line_end(text)}{text}"


def renamed_everywhere(document: Document, finding: Finding, span: Span, new: str) -> str:
    """The text with another word at a span, and at all headings of the table that the finding is about."""
    spans = document.key_spans(finding.primary.path) if finding.primary.key and finding.primary.path else []
    return edited_text(document.text, [(each, new) for each in {*spans, span}])


def _blocks(text: str, start: int) -> Iterator[str]:
    """From an open bracket to where it may be meant to close: the end of its line, or of the lines below it that go on."""
    first = rest_of_line(text, start)
    yield first
    end = start + len(first)
    for _ in range(MOST_LINES):
        line = text.find("\n", end) + 1
        more = rest_of_line(text, line) if line else ""
        if not more.strip() or NEXT_STATEMENT.match(more):
            break
        end = line + len(more)
    if end > start + len(first):
        yield text[start:end]


def missing_brackets(block: str) -> str:
    """What closes the brackets that are open at the end of a piece of TOML; empty where one is closed that is not open."""
    closers: list[str] = []
    for piece in PIECE.finditer(block):
        sign = piece.group()
        if piece.lastgroup == "sign" and sign in "[{":
            closers.append("]" if sign == "[" else "}")
        elif piece.lastgroup == "sign" and sign in "]}" and (not closers or closers.pop() != sign):
            return ""
    return "".join(f" {each}" if each == "}" else each for each in reversed(closers))


def rest_of_line(text: str, at: int) -> str:
    """A line from an offset on, without the comment at its end. Also in a string that is not closed a `#` may begin one."""
    end = min((where for where in (text.find("\n", at), text.find("\r", at)) if where >= 0), default=len(text))
    line = text[at:end]
    in_string = (line[1:n].count('"') % 2 for n in range(len(line)))  # one that began after the first character
    comment = next((n for n, inside in enumerate(in_string) if line[n] == "#" and not inside), len(line))
    return line[:comment].rstrip()
