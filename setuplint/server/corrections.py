"""What was meant by a line that cannot be read, or a word that is none: put in its place, and read again to see that it helps."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

from setuplint.findings import Finding
from setuplint.source import Document, Span

MEANT = re.compile(r"did you mean “?([a-z0-9-]+)”?\?")
GIVEN = re.compile(
    r"^(?:Write|Write the number alone, without a unit:) (?:`(\[.*\])`|(true|false|inf|nan|[-+]?[\d.]+))\.$"
)
NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?")
LONGEST = 60  # characters of a title

Correction = tuple[str, str]  # what is written, and the text with it


def corrections(
    document: Document, span: Span, finding: Finding, problems: Callable[[str], int]
) -> Iterator[Correction]:
    """The first that leaves fewer problems than the text has; `problems` counts those of a text."""
    before = -1
    for written, text in _candidates(document, span, finding):
        before = problems(document.text) if before < 0 else before
        if text != document.text and problems(text) < before:
            yield shortened(written), text
            return


def shortened(text: str) -> str:
    return text if len(text) <= LONGEST else text[: LONGEST - 3] + "..."


def _candidates(document: Document, span: Span, finding: Finding) -> Iterator[Correction]:
    text = document.text
    old, rest = text[span.start : span.end], rest_of_line(text, span.start)
    said = f"{finding.message} {finding.remedy}"

    def put(new: str, length: int = len(old)) -> Correction:
        return new, text[: span.start] + new + text[span.start + length :]

    meant, given = MEANT.search(said), GIVEN.search(finding.remedy)
    if meant is not None:
        quote = old[0] if old[:1] in ('"', "'") else ""
        new = f"{quote}{meant.group(1)}{quote}"
        yield meant.group(1), everywhere(document, finding, span, new)
    elif given is not None:
        yield put(given.group(1) or given.group(2))
    elif "Put text in quotes" in finding.remedy and '"' not in rest and "\\" not in rest:
        yield put(f'"{rest}"', len(rest))
        yield put(f'"{old}"')
    elif "has a point, not a comma" in finding.message:
        whole = re.search(r"[-+]?\d+$", text[: span.start])
        decimal = f"{whole.group() if whole else ''}.{rest.lstrip(',')}"
        yield decimal, put(f".{rest.lstrip(',')}", len(rest))[1]
    elif finding.remedy == "Delete the comma.":
        yield "no comma", put("")[1]
    elif "behind its end, on the same line" in finding.remedy:
        yield put(rest + old[:1], len(rest))
    elif "not closed on its line" in finding.message:
        yield put(f"{rest} }}", len(rest))
    elif finding.remedy == "write the number without quotes" and NUMBER.fullmatch(old.strip("\"'")):
        yield put(old.strip("\"'"))
    elif finding.remedy == "begin it with format = 1":
        yield "format = 1", f"format = 1\n{text}"


def everywhere(document: Document, finding: Finding, span: Span, new: str) -> str:
    """A word in place of another; a table that has several headings has it in each."""
    spans = document.key_spans(finding.primary.path) if finding.primary.key and finding.primary.path else []
    text = document.text
    for each in sorted(set(spans) | {span}, reverse=True):
        text = text[: each.start] + new + text[each.end :]
    return text


def rest_of_line(text: str, at: int) -> str:
    """What stands on a line from a place on, without the comment at its end. In a text that is not closed a comment may begin
    too."""
    end = min((where for where in (text.find("\n", at), text.find("\r", at)) if where >= 0), default=len(text))
    line = text[at:end]
    comment = next((n for n, char in enumerate(line) if char == "#" and not _inside(line[:n])), len(line))
    return line[:comment].rstrip()


def _inside(start: str) -> bool:
    """Whether a line that starts so is within a text that began after its first character."""
    return start[1:].count('"') % 2 == 1
