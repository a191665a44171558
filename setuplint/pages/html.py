"""A self-contained page: it makes no request, nothing from a file is markup, and only its own style and script run."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterable
from functools import cache
from hashlib import sha256
from pathlib import Path

from setuplint.formats.terminal import FIXED_SPACE, plain

HERE = Path(__file__).parent
STYLES = ("palette.css", "drawing.css", "page.css")  # colours of each theme, what is drawn, all else

MADE_HERE = '<meta name="generator" content="setuplint">'  # such a page may be written over: nobody edits it by hand


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
    return f"<{name}{written}>" if name in ("br", "img") else f"<{name}{written}>{inside}</{name}>"


def html_table(
    heads: Iterable[str], rows: Iterable[Iterable[str]], caption: str = "", class_: str | None = None
) -> str:
    """A table of HTML cells; the first of each row names it."""
    top = "".join(tag("th", head, scope="col") for head in heads)
    body = []
    for row in rows:
        first, *rest = row
        body.append(tag("tr", tag("th", first, scope="row") + "".join(tag("td", cell) for cell in rest)))
    named = tag("caption", caption) if caption else ""
    inner = named + tag("thead", tag("tr", top)) + tag("tbody", "\n".join(body))
    return scrollable(tag("table", inner, class_=class_), caption or "table")


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
    """The whole page. `data` is JSON that `script` reads; without a script the policy allows none. `styles` are assets beside
    those of every page."""
    style = "".join(map(asset, (*STYLES, *styles)))
    policy = [f"default-src 'none'; style-src {csp_hash(style)}; img-src data:; base-uri 'none'; form-action 'none'"]
    if script:
        policy.append(f"script-src {csp_hash(script)}")
    head = (
        '<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{"; ".join(policy)}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta name="color-scheme" content="light dark">\n'
        f"{MADE_HERE}\n"
        f"<title>{text(title)}</title>\n<style>{style}</style>"
    )
    end = ""
    if data:
        end += f'\n<script type="application/json" id="data">{data.replace("<", chr(92) + "u003c")}</script>'
    if script:
        end += f"\n<script>{script}</script>"
    return f'<!doctype html>\n<html lang="en">\n<head>\n{head}\n</head>\n<body>\n{body}{end}\n</body>\n</html>\n'
