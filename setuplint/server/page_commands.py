"""The report, the bench card and the sheet of an open text, saved or not, for an editor that can show a page beside it.

`setuplint.page` takes `{uri, of}`, with `of` one of report, bench-card and sheet, and returns `{html, name}`: a whole page,
which loads nothing; or `{error}`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from typing import Any

from setuplint.dataclass import replace
from setuplint.server.analysis import Analysis
from setuplint.server.lens_commands import plain_json
from setuplint.server.session import Session

PAGE = "setuplint.page"
JsonObject = dict[str, Any]


async def page_command(session: Session, argument: Any = None) -> JsonObject:
    given = plain_json(argument)
    asked = given if isinstance(given, Mapping) else {}
    page = PAGES.get(str(asked.get("of")))
    if page is None:
        return {"error": f"there are pages of {', '.join(PAGES)}"}
    file = session.files.by_uri.get(str(asked.get("uri", "")))
    analysis = await session.scheduler.newest_analysis(file) if file is not None and not file.is_config else None
    if analysis is None or not analysis.parsed.is_setup:
        return {"error": "this is not an open setup"}
    if not analysis.parsed.is_readable:
        return {"error": "something of it cannot be read: the list of problems shows what"}
    return {"html": await session.edit_requests.result(page, analysis), "name": analysis.parsed.setup.craft.name}


def report_html(analysis: Analysis) -> str:
    from setuplint.pages.report import report_page

    rules = analysis.choices.rules if analysis.choices is not None else None
    return report_page(replace(analysis.report, findings=analysis.findings), analysis.parsed.setup, rules)


def card_html(analysis: Analysis) -> str:
    from setuplint.bench.stages import bench_card
    from setuplint.pages.card_paper import card_paper
    from setuplint.pages.card_text import card_text
    from setuplint.pages.papers import hazard_warning, paper_text

    setup, report = analysis.parsed.setup, analysis.report
    card, warning = bench_card(setup), hazard_warning(report, "card")
    text = card_text(card, report.values, report.name, str(date.today()), warning, report)
    return paper_text(card_paper(text, card), "html")


def sheet_html(analysis: Analysis) -> str:
    from setuplint.pages.papers import hazard_warning, paper_text
    from setuplint.pages.sheet import sheet_paper, whole_sheet

    setup, report = analysis.parsed.setup, analysis.report
    sheet = whole_sheet(setup, report.name, str(date.today()))
    return paper_text(sheet_paper(replace(sheet, warning=hazard_warning(report, "sheet")), setup), "html")


PAGES: Mapping[str, Callable[[Analysis], str]] = {
    "report": report_html,
    "bench-card": card_html,
    "sheet": sheet_html,
}
