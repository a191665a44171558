"""A sheet as a page to print, as Markdown, and as JSON; each row with an empty place for what was read back."""

from __future__ import annotations

import json
import re

from setuplint.formats.terminal import FIXED_SPACE, plain
from setuplint.pages import charts
from setuplint.pages.curve_charts import curve_chart
from setuplint.pages.html import page, table, tag, text
from setuplint.pages.sheet import CAREFUL, Sheet, SheetTable
from setuplint.setup.model import Setup

READ_BACK = "Read back"
MARKED = re.compile(r"[\\`*_\[\]<>#|~&@]|:(?=//)|(?<=www)\.")


def as_html(sheet: Sheet, setup: Setup) -> str:
    head = tag("h1", text(f"{sheet.craft}: what to enter"))
    head += tag("p", " · ".join(tag("span", text(each)) for each in _about(sheet)), class_="soft")
    head += tag("p", text(CAREFUL), class_="careful")
    head += tag("p", tag("strong", text(sheet.warning)), class_="careful bad") if sheet.warning else ""
    body = "".join(_section(section, setup) for section in sheet.sections) or tag("p", "Nothing has changed.")
    return page(f"{sheet.craft}: sheet", tag("main", tag("header", head) + body))


def _about(sheet: Sheet) -> list[str]:
    found = [sheet.file, sheet.day, f"fingerprint {sheet.fingerprint}"]
    return [*found, f"only what is not as in {sheet.since}"] if sheet.since else found


def _section(section: SheetTable, setup: Setup) -> str:
    blank = tag("span", "", class_="blank")
    rows = [[*(text(cell) for cell in row), blank] for row in section.rows]
    inner = tag("h2", text(section.title))
    inner += tag("p", text(section.note), class_="soft") if section.note else ""
    listed = table([*(text(head) for head in section.heads), READ_BACK], rows, text(section.title), class_="sheet")
    drawn = tag("figure", charts.figure(curve_chart(setup, section.curve))) if section.curve else ""
    return tag("section", inner + tag("div", listed + drawn, class_="pair"))


def as_markdown(sheet: Sheet) -> str:
    lines = [
        f"# {_safe(sheet.craft)}: what to enter",
        "",
        " · ".join(map(_safe, _about(sheet))),
        "",
        f"**{CAREFUL}**",
        "",
        *((f"**{_safe(sheet.warning)}**", "") if sheet.warning else ()),
    ]
    for section in sheet.sections:
        lines += [f"## {_safe(section.title)}", ""]
        lines += [_safe(section.note), ""] if section.note else []
        heads = [*section.heads, READ_BACK]
        lines.append("| " + " | ".join(map(_safe, heads)) + " |")
        lines.append("|" + " --- |" * len(heads))
        lines += ["| " + " | ".join(map(_safe, (*row, ""))) + " |" for row in section.rows]
        lines.append("")
    if not sheet.sections:
        lines += ["Nothing has changed.", ""]
    return "\n".join(lines)


def _safe(words: str) -> str:
    """Text in which nothing of a file is Markdown or HTML."""
    return MARKED.sub(r"\\\g<0>", plain(words.replace(FIXED_SPACE, " ")))


def as_json(sheet: Sheet) -> str:
    """Version 1."""
    return (
        json.dumps(
            {
                "version": 1,
                "craft": sheet.craft,
                "file": sheet.file,
                "date": sheet.day,
                "fingerprint": sheet.fingerprint,
                "since": sheet.since or None,
                "careful": CAREFUL,
                "warning": sheet.warning or None,
                "sections": [
                    {
                        "key": section.key,
                        "title": section.title,
                        "note": section.note,
                        "heads": section.heads,
                        "rows": [[cell.replace(FIXED_SPACE, " ") for cell in row] for row in section.rows],
                    }
                    for section in sheet.sections
                ],
            },
            indent=1,
        )
        + "\n"
    )
