"""How standard output is to be written to."""

from __future__ import annotations

import os
import sys

from setuplint.formats.terminal import Look

WIDEST = 110


def look() -> Look:
    """On a terminal coloured, but not with NO_COLOR, and as wide as is good to read; elsewhere plain, 80 cells wide."""
    if not sys.stdout.isatty():
        return Look()
    from shutil import get_terminal_size

    colour = not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb" and os.name != "nt"
    return Look(width=min(max(40, get_terminal_size().columns), WIDEST), colour=colour)
