"""A comparison as Markdown made to be posted on a pull request: what is grave first, the rest folded, bounded in size."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import partial

from setuplint.club.policy_changes import PolicyChange
from setuplint.formats.comparison_document import policy_document
from setuplint.formats.document import Block
from setuplint.formats.document_markdown import document_markdown
from setuplint.formats.markdown_text import LIMIT, escaped
from setuplint.formats.numbers import counted
from setuplint.formats.passed_over import PassedOver, passed_over_words
from setuplint.formats.summary import CAUTION
from setuplint.formats.terminal import Look

ROOM = LIMIT - 4_000  # bytes for the opening and all sections; the closing takes the rest
between = ""
BRIEF = True
LONGEST = 300  # characters of what is said of a policy: with as many as are listed it fits, whatever has to be escaped
NOTES = 10


def opening(policy: Sequence[PolicyChange], said: str, look: Look) -> str:
    judged = document_markdown(policy_document(policy, said, brief=True), partial(escaped, most=LONGEST))
    return f"{judged}\n## What the craft do differently\n\n" if judged else "## What the craft do differently\n\n"


def written(blocks: Iterable[Block], look: Look) -> str:
    return document_markdown(blocks, address=look.link) + "\n"


def closing(
    compared: int, differing: int, troubles: Sequence[str], passed_over: Sequence[PassedOver], look: Look
) -> str:
    lines = [f"{counted(compared, 'setup')} compared, {differing} of them not the same."]
    over = passed_over_words(passed_over)
    lines += [f"Passed over: {escaped(over)}."] if over else []
    lines += [f"Note: {escaped(trouble, 200)}." for trouble in troubles[:NOTES]]
    lines += [f"And {counted(len(troubles) - NOTES, 'more note')}."] if len(troubles) > NOTES else []
    return "\n\n".join([*lines, f"*{escaped(CAUTION)}*"]) + "\n"
