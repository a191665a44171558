"""Try it here: code lenses, and the commands behind them, which any client can call.

`setuplint.try` takes `{uri, kind, name, moves, quietly}` and gives what `lenses.tried` does, or `{error}`. Unless it is to be
quiet, the same is shown as a message; an editor that can show choices steps through the switches with them.
`setuplint.summary` takes `{uri}` and gives `{text}`: what was decided, what was not judged, and why.
"""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from lsprotocol import types as lsp

from setuplint.formats.terminal import FIXED_SPACE, Look
from setuplint.server import lenses
from setuplint.server.analysis import Analysis, Reading
from setuplint.source import Span

if TYPE_CHECKING:
    from setuplint.server.server import Server

TRY = "setuplint.try"
SUMMARY = "setuplint.summary"
MOST_STEPS = 100
MOST_CHOICES = 12
CLOSE = "close"


def register(server: Server) -> None:
    asking = server.asking

    @server.feature(lsp.TEXT_DOCUMENT_CODE_LENS)
    async def lensed(params: lsp.CodeLensParams) -> list[lsp.CodeLens]:
        asked = await asking.file(params.text_document.uri)
        if asked is None:
            return []
        uri = asked.file.uri
        found = [
            lsp.CodeLens(
                asked.range(each.span),
                lsp.Command(
                    f"try {each.kind} {each.name} here",
                    TRY,
                    arguments=[{"uri": uri, "kind": each.kind, "name": each.name}],
                ),
            )
            for each in lenses.lenses(asked.reading)
        ]
        analysis = await server.judging.analysis(asked.file)
        if analysis is not None and analysis.reading.is_setup:
            found.insert(
                0,
                lsp.CodeLens(
                    asked.range(Span(0, 0)), lsp.Command(decided(analysis), SUMMARY, arguments=[{"uri": uri}])
                ),
            )
        return found

    @server.command(TRY)
    async def tried(asked: Any = None) -> dict[str, Any]:
        given = plain(asked)
        if not isinstance(given, Mapping):
            return {"error": "what is tried is given as {uri, kind, name}"}
        uri, kind, name = (str(given.get(key, "")) for key in ("uri", "kind", "name"))
        moves = given.get("moves") or []
        moves = [moves] if isinstance(moves, Mapping) else moves
        if not isinstance(moves, list) or not all(isinstance(move, Mapping) for move in moves):
            return {"error": "moves is a list, each of controls and where they are put"}
        found = await state(uri, kind, name, moves)
        if not given.get("quietly"):
            steps = asyncio.ensure_future(step_through(uri, kind, name, moves, found))
            server.steps.add(steps)
            steps.add_done_callback(server.steps.discard)
        return found

    async def state(uri: str, kind: str, name: str, moves: list[Mapping[str, Any]]) -> dict[str, Any]:
        asked = await asking.file(uri)
        if asked is None:
            return {"error": f"{uri} is not an open set-up"}
        return await asking.work(_tried, asked.reading, kind, name, moves)

    async def step_through(
        uri: str, kind: str, name: str, moves: list[Mapping[str, Any]], found: dict[str, Any]
    ) -> None:
        """Show a state with the movements that may come next, and go on from the one that is chosen."""
        for _ in range(MOST_STEPS):
            if "error" in found or not can_choose(server):
                kind_of = lsp.MessageType.Warning if "error" in found else lsp.MessageType.Info
                server.window_show_message(lsp.ShowMessageParams(kind_of, found.get("error") or found["text"]))
                return
            following = {each["title"]: each["move"] for each in found["next"][:MOST_CHOICES]}
            items = [lsp.MessageActionItem(title) for title in (*following, CLOSE)]
            chosen = await server.window_show_message_request_async(
                lsp.ShowMessageRequestParams(lsp.MessageType.Info, found["text"], items)
            )
            if chosen is None or chosen.title not in following:
                return
            moves = [*moves, following[chosen.title]]
            found = await state(uri, kind, name, moves)

    @server.command(SUMMARY)
    async def summed(asked: Any = None) -> dict[str, Any]:
        given = plain(asked)
        uri = str(given.get("uri", "")) if isinstance(given, Mapping) else ""
        file = server.files.open.get(uri)
        analysis = await server.judging.analysis(file) if file is not None else None
        if analysis is None:
            return {"error": f"{uri} is not an open set-up"}
        text = summary(analysis)
        if not given.get("quietly"):
            server.window_show_message(lsp.ShowMessageParams(lsp.MessageType.Info, text))
        return {"text": text}


def _tried(reading: Reading, kind: str, name: str, moves: list[Mapping[str, Any]]) -> dict[str, Any]:
    try:
        return lenses.tried(reading, kind, name, moves)
    except lenses.NoState as error:
        return {"error": str(error).replace(FIXED_SPACE, " ")}


def can_choose(server: Server) -> bool:
    """Whether the editor can show choices with a message."""
    window = server.client_capabilities.window
    return window is not None and window.show_message is not None


def decided(analysis: Analysis) -> str:
    """What was decided of a set-up, in a few words."""
    if not analysis.reading.whole:
        return "unfinished: what is shown was found before"
    report = analysis.report
    rules = {note.rule for note in report.not_judged}
    text = f"{report.rules} rules decided over {report.states:,} states"
    return f"{text}, {len(rules)} not judged" if rules else text


def summary(analysis: Analysis) -> str:
    """What a lint comes to: counts, what was not judged and why, and the caution."""
    from setuplint.formats.reports.text import closing
    from setuplint.formats.summary import summary_of

    return closing(summary_of(analysis.report, "caution", []), Look(width=100)).replace(FIXED_SPACE, " ").rstrip()


def plain(given: Any) -> Any:
    """JSON as pygls gives it, as dicts and lists."""
    if hasattr(given, "_asdict"):
        return {key: plain(each) for key, each in given._asdict().items()}
    if isinstance(given, Mapping):
        return {str(key): plain(each) for key, each in given.items()}
    if isinstance(given, list | tuple):
        return [plain(each) for each in given]
    return given
