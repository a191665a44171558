"""The text of the setup that the answers make.

Every number in it was given by the pilot, follows from one that was, or is a plain setting; nothing that has to be
measured is made up.
"""

from __future__ import annotations

from typing import Any

from setuplint.interview.course import Course, CourseNames
from setuplint.interview.data import FilePiece, interview
from setuplint.interview.terms import holds


def setup_text(course: Course) -> str:
    """The whole file."""
    names = CourseNames(interview(), course.answers)
    return "\n".join(text for piece in interview().pieces for text in _texts(names, piece))


def _texts(names: CourseNames, piece: FilePiece) -> list[str]:
    items = [None] if piece.each is None else names.worth(piece.each) or []
    texts = []
    for item in items:
        own: dict[str, Any] = {"each": item}
        if piece.when is None or holds(names.worth(piece.when, own)):
            lines = [names.worth(line, own) if len(line) > 1 else "" for line in piece.lines]
            texts.append("".join(f"{line}\n" for line in lines if line is not None))
    return texts
