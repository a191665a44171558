"""A self-contained page: it makes no request, nothing from a file is markup, and only its own style and script run."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from hashlib import sha256
from pathlib import Path

from setuplint.formats.terminal import FIXED_SPACE, plain
from setuplint.named_tuple import NamedTuple

HERE = Path(__file__).parent
STYLES = ("palette.css", "sunlight.css", "drawing.css", "page.css")  # colours of each theme, what is drawn, all else

MADE_HERE = '<meta name="generator" content="setuplint">'  # such a page may be written over: nobody edits it by hand


LOOK = (
    '<aside class="look" aria-label="How this page looks">'
    '<label><input type="checkbox" id="sunlight"> High contrast, for bright sunlight</label></aside>'
)


def text(words: object) -> str:
    """Text as HTML: markup and characters that could change how it reads are shown, not obeyed."""
    shown = plain(str(words).replace(FIXED_SPACE, "\u2007")).replace("\u2007", FIXED_SPACE)
    for char, entity in (("&", "&amp;"), ("<", "&lt;"), (">", "&gt;"), ('"', "&quot;"), ("'", "&#39;")):
        shown = shown.replace(char, entity)
    return shown


def tag(name: str, inside: str = "", **attributes: object) -> str:
    """An element around `inside`, which is HTML; attributes are text. `class_` is class, `data_x` is data-x; None is left out."""
    written = "".join(
        f" {key.rstrip('_').replace('_', '-')}"
        if value is True
        else f' {key.rstrip("_").replace("_", "-")}="{text(value)}"'
        for key, value in attributes.items()
        if value is not None and value is not False
    )
    return f"<{name}{written}>" if name in ("br", "img", "input") else f"<{name}{written}>{inside}</{name}>"


class TableCell(NamedTuple):
    """A cell of a table: HTML, and attributes of its own."""

    inside: str
    attributes: Mapping[str, str] = {}


def html_table(
    heads: Iterable[str],
    labels: Sequence[str],
    rows: Iterable[Sequence[TableCell]],
    caption: str = "",
    class_: str | None = None,
) -> str:
    """A table; the first cell of each row names it. In a narrow window each row is a block, in which `labels`, the heads
    as words, stand before the cells; the roles keep it a table for who does not see it."""
    top = "".join(tag("th", head, scope="col", role="columnheader") for head in heads)
    body = []
    for first, *rest in rows:
        cells = [tag("th", first.inside, scope="row", role="rowheader", data_head=labels[0])]
        cells += [
            tag("td", cell.inside and tag("div", cell.inside), role="cell", data_head=label, **cell.attributes)
            for label, cell in zip(labels[1:], rest, strict=True)
        ]
        body.append(tag("tr", "".join(cells), role="row"))
    named = tag("caption", caption) if caption else ""
    head = tag("thead", tag("tr", top, role="row"), role="rowgroup")
    inner = named + head + tag("tbody", "\n".join(body), role="rowgroup")
    return scrollable(tag("table", inner, class_=class_, role="table"), caption or "table")


def scrollable(inside: str, label: str) -> str:
    """What may be wider than the window: it scrolls by itself, also by the keyboard."""
    return tag("div", inside, class_="wide", tabindex="0", role="region", aria_label=label)


@cache
def asset(name: str) -> str:
    """A style or script of the package that goes into pages."""
    return (HERE / name).read_text(encoding="utf-8")


def csp_hash(inline: str) -> str:
    """The hash of an inline style or script for a content-security policy."""
    return f"'sha256-{b64encode(sha256(inline.encode()).digest()).decode()}'"


def html_page(title: str, body: str, *, data: str = "", script: str = "", styles: Iterable[str] = ()) -> str:
    """The whole page. `data` is JSON that `script` reads. `styles` are assets beside those of every page. Beside the page's
    own style and script the policy allows none."""
    style = "".join(map(asset, (*STYLES, *styles)))
    look = asset("look.js")
    run = " ".join(map(csp_hash, filter(None, (look, script))))
    policy = (
        f"default-src 'none'; style-src {csp_hash(style)}; script-src {run}; img-src data:; "
        "base-uri 'none'; form-action 'none'"
    )
    head = (
        '<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta name="color-scheme" content="light dark">\n'
        f"{MADE_HERE}\n"
        f"<title>{text(title)}</title>\n<style>{style}</style>"
    )
    end = f'\n<script type="application/json" id="data">{data.replace("<", chr(92) + "u003c")}</script>' if data else ""
    end += f"\n<script>{script}</script>" if script else ""
    return (  # the look is as it was chosen before anything is shown, and a tick while the rest comes in stays
        f'<!doctype html>\n<html lang="en">\n<head>\n{head}\n</head>\n<body>\n{LOOK}<script>{look}</script>\n'
        f"{body}{end}\n</body>\n</html>\n"
    )
