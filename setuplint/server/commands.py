"""“Try it here”: code lenses, and the commands behind them, which any client can call.

`setuplint.try` takes `{uri, kind, name, moves, quietly}` and returns what `lenses.tried_state` does, or `{error}`. Unless it is
to be quiet, it shows the same as a message; an editor that shows choices can step through the switches with them.
`setuplint.summary` takes `{uri, quietly}` and returns `{text}`: what was decided, what was not judged, and why.
`setuplint.page` takes `{uri, of}`, with `of` one of report, bench-card and sheet, and returns `{html, name}`: a whole page of the
open text, saved or not, which loads nothing; or `{error}`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from typing import Any

from lsprotocol import types as lsp

from setuplint.dataclass import replace
from setuplint.formats.numbers import counted
from setuplint.formats.summary import summary_of
from setuplint.formats.terminal import FIXED_SPACE, Look
from setuplint.named_tuple import NamedTuple
from setuplint.server.analysis import Analysis
from setuplint.server.lenses import JsonObject, NoState, lenses, tried_state
from setuplint.server.open_files import OpenFile
from setuplint.server.session import Session
from setuplint.setup.problems import capitalised
from setuplint.source import Span

TRY = "setuplint.try"
SUMMARY = "setuplint.summary"
MOST_STEPS = 100
MOST_CHOICES = 12
CLOSE = "close"
UNFINISHED_TEXT = "unfinished: what is shown was found before"


class Trial(NamedTuple):
    """What is to be tried: the state of a part of an open setup, after some movements."""

    uri: str
    kind: str
    name: str
    moves: tuple[Mapping[str, Any], ...]


async def code_lenses(session: Session, params: lsp.CodeLensParams) -> list[lsp.CodeLens]:
    uri = params.text_document.uri
    snapshot = await session.requests.setup(uri)
    if snapshot is None:
        return []
    found = []
    for each in lenses(snapshot.parsed):
        argument = {"uri": uri, "kind": each.kind, "name": each.name}
        command = lsp.Command(f"try {each.kind} {each.name} here", TRY, arguments=[argument])
        found.append(lsp.CodeLens(snapshot.range(each.span), command))
    analysis = await session.scheduler.newest_analysis(snapshot.file)
    if analysis is not None and analysis.parsed.is_setup:
        command = lsp.Command(summary_title(snapshot.file, analysis), SUMMARY, arguments=[{"uri": uri}])
        found.insert(0, lsp.CodeLens(snapshot.range(Span(0, 0)), command))
    return found


async def try_command(session: Session, argument: Any = None) -> JsonObject:
    given = plain_json(argument)
    try:
        trial = requested_trial(given)
    except NoState as error:
        return {"error": str(error)}
    found = await trial_result(session, trial)
    if not given.get("quietly"):
        session.keep(step_through(session, trial, found))
    return found


def requested_trial(given: Any) -> Trial:
    """The trial that a command's argument asks for. NoState where it asks for none."""
    if not isinstance(given, Mapping):
        raise NoState("what is tried is given as {uri, kind, name}")
    moves = given.get("moves") or []
    moves = [moves] if isinstance(moves, Mapping) else moves
    if not isinstance(moves, list) or not all(isinstance(move, Mapping) for move in moves):
        raise NoState("moves is a list, each of controls and where they are put")
    uri, kind, name = (str(given.get(key, "")) for key in ("uri", "kind", "name"))
    return Trial(uri, kind, name, tuple(moves))


async def trial_result(session: Session, trial: Trial) -> JsonObject:
    snapshot = await session.requests.setup(trial.uri)
    if snapshot is None:
        return {"error": f"{trial.uri} is not an open set-up"}
    try:
        return await session.requests.result(tried_state, snapshot.parsed, trial.kind, trial.name, trial.moves)
    except NoState as error:
        return {"error": str(error).replace(FIXED_SPACE, " ")}


async def step_through(session: Session, trial: Trial, found: JsonObject) -> None:
    """Show a state with the movements that may come next, and go on from the one that is chosen."""
    for _ in range(MOST_STEPS):
        if "error" in found or not session.shows_choices:
            message_type = lsp.MessageType.Warning if "error" in found else lsp.MessageType.Info
            text = found.get("error") or found["text"]
            session.window_show_message(lsp.ShowMessageParams(message_type, text))
            return
        following = {each["title"]: each["move"] for each in found["next"][:MOST_CHOICES]}
        items = [lsp.MessageActionItem(title) for title in (*following, CLOSE)]
        chosen = await session.window_show_message_request_async(
            lsp.ShowMessageRequestParams(lsp.MessageType.Info, found["text"], items)
        )
        if chosen is None or chosen.title not in following:
            return
        trial = trial._replace(moves=(*trial.moves, following[chosen.title]))
        found = await trial_result(session, trial)


async def summary_command(session: Session, argument: Any = None) -> JsonObject:
    given = plain_json(argument)
    uri = str(given.get("uri", "")) if isinstance(given, Mapping) else ""
    file = session.files.by_uri.get(uri)
    analysis = await session.scheduler.newest_analysis(file) if file is not None else None
    if file is None or analysis is None:
        return {"error": f"{uri} is not an open set-up"}
    text = summary_text(file, analysis)
    if not given.get("quietly"):
        session.window_show_message(lsp.ShowMessageParams(lsp.MessageType.Info, text))
    return {"text": text}


def summary_title(file: OpenFile, analysis: Analysis) -> str:
    """What a lint of a setup comes to, in a few words."""
    if analysis.is_carried:
        return UNFINISHED_TEXT
    report = analysis.report
    tally = summary_of(file.club.sifted(analysis, file.path)).tally
    return f"{tally.text()}: {report.rules} rules decided over {counted(report.states, 'state')}"


def summary_text(file: OpenFile, analysis: Analysis) -> str:
    """The end of a lint's output: counts, what was not judged and why, and the caution."""
    from setuplint.formats.reports.text import closing

    said = closing(summary_of(file.club.sifted(analysis, file.path), "caution", []), Look(width=100))
    begun = f"{capitalised(UNFINISHED_TEXT)}.\n" if analysis.is_carried else ""
    return begun + said.replace(FIXED_SPACE, " ").rstrip()


def plain_json(given: Any) -> Any:
    """JSON as pygls has it, as dicts and lists."""
    if hasattr(given, "_asdict"):
        return {key: plain_json(each) for key, each in given._asdict().items()}
    if isinstance(given, Mapping):
        return {str(key): plain_json(each) for key, each in given.items()}
    if isinstance(given, list | tuple):
        return [plain_json(each) for each in given]
    return given


PAGE = "setuplint.page"


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
