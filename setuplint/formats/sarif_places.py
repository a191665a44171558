"""Places in SARIF: what a file is called, regions, and the words of messages.

Section numbers are those of OASIS's SARIF 2.1.0. Files under the work tree that the command is run in (or, without one,
under the folder) go by their path from there and `%SRCROOT%`, which is never resolved: no path of a machine is written.
"""

from __future__ import annotations

import os
from functools import cache

from setuplint.findings import Place, Report, Where
from setuplint.formats.terminal import FIXED_SPACE, plain
from setuplint.setup.file_sources import GIT, folders_above

Object = dict[str, object]

BASE = "%SRCROOT%"


def path_in_root(name: str) -> str | None:
    """The path from the root to a file by the command's name for it, with slashes; None where it is not under the root."""
    folder = root_of(os.getcwd())
    name = _as_bytes_were(name)
    for path in (os.path.abspath(name), os.path.realpath(name)):
        if path.startswith(folder.rstrip(os.sep) + os.sep):
            return path[len(folder.rstrip(os.sep)) + 1 :].replace(os.sep, "/")
    return None


@cache
def root_of(folder: str) -> str:
    """The git work tree that a folder is in, else the folder."""
    return next((at for at in folders_above(folder) if os.path.lexists(os.path.join(at, GIT))), folder)


def _as_bytes_were(name: str) -> str:
    """A file's name as the system has it. `cli.files.printable` writes bytes that are not UTF-8 as escapes. A name may have a
    backslash of its own, so it is checked which file exists."""
    if "\\x" not in name or os.path.lexists(name):
        return name
    encoded = name.encode(errors="surrogatepass")
    try:
        bare = os.fsdecode(encoded.decode("unicode_escape").encode("latin-1"))
    except ValueError:
        return name
    return bare if os.path.lexists(bare) else name


def quoted_path(path: str) -> str:
    """A path as a part of an address."""
    from urllib.parse import quote

    return quote(os.fsencode(path))


def artifact_location(name: str) -> Object:
    """An artifactLocation (3.4), percent-encoded (3.4.3)."""
    path = path_in_root(name)
    if path is not None:
        return {"uri": quoted_path(path), "uriBaseId": BASE}
    encoded = quoted_path(_as_bytes_were(name).replace(os.sep, "/"))
    if not os.path.isabs(name):
        return {"uri": encoded}
    return {"uri": f"file://{encoded}" if encoded.startswith("/") else f"file:///{encoded}"}  # a drive of Windows


def region(where: Where) -> Object:
    """A text region (3.30): lines and columns from 1 and offsets from 0, all in code points; the end is the first past it."""
    (line, column), (end_line, end_column) = where.start, where.end
    return {
        "startLine": line,
        "startColumn": column,
        "endLine": end_line,
        "endColumn": end_column,
        "charOffset": where.span.start,
        "charLength": where.span.end - where.span.start,
    }


def location(report: Report, place: Place, text: str = "", number: int | None = None) -> Object:
    """A location (3.28). `text` is its message; `number` is its id, from 0 and unique in a result."""
    where = report.where(place)
    made: Object = {} if number is None else {"id": number}
    made["physicalLocation"] = {"artifactLocation": artifact_location(where.name), "region": region(where)}
    if text:
        made["message"] = message(text)
    return made


def point_location(name: str, line: int, column: int) -> Object:
    """The location of a line and column, both from 1."""
    return {
        "physicalLocation": {
            "artifactLocation": artifact_location(name),
            "region": {"startLine": line, "startColumn": column},
        }
    }


def message(text: str) -> Object:
    """A message (3.11) of just these words. Braces of placeholders are doubled (3.11.5), and links are escaped (3.11.6)."""
    return {"text": message_words(text)}


def message_words(text: str) -> str:
    """Text with everything escaped that has a meaning in a message string. Line feeds stay."""
    lines = ("".join(map(plain, line)) for line in text.replace(FIXED_SPACE, " ").split("\n"))
    shown = "\n".join(lines).replace("{", "{{").replace("}", "}}")
    if "](" in shown:
        shown = shown.replace("[", "\\[").replace("]", "\\]")
    return shown
