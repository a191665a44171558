"""Requests for diagnostics, of a file and of all setups that are not open."""

from __future__ import annotations

from lsprotocol import types as lsp

from setuplint.server.diagnostics import Diagnostics
from setuplint.server.session import Session


async def document_diagnostics(
    session: Session, params: lsp.DocumentDiagnosticParams
) -> lsp.RelatedFullDocumentDiagnosticReport:
    """What is told of an open file unasked, too."""
    file = session.files.by_uri.get(params.text_document.uri)
    analysis = await session.scheduler.newest_analysis(file) if file is not None else None
    if file is None or analysis is None:
        return lsp.RelatedFullDocumentDiagnosticReport([])
    found = Diagnostics(session.files, file, analysis, related=session.shows_related).diagnostics()
    return lsp.RelatedFullDocumentDiagnosticReport(found)


async def workspace_diagnostics(
    session: Session, params: lsp.WorkspaceDiagnosticParams
) -> lsp.WorkspaceDiagnosticReport:
    return await session.unopened.pull(params)
