"""Links from Markdown to the lines of files, where the address is known under which the files of the repository are seen."""

from __future__ import annotations

import os

from setuplint.formats.sarif_places import path_in_root, quoted_path


def place_link(shown: str, name: str, line: int, address: str) -> str:
    """A place as it is shown, in Markdown; where the address is known (and the file is there) a link to its line."""
    path = path_in_root(name) if address and os.path.lexists(name) else None
    return shown if path is None else f"[{shown}](<{address}/{quoted_path(path)}#L{line}>)"
