"""A process that judges the setups that are not open in the editor.

It is given `{"texts", "encoding", "related", "group_of", "records"}`: what is open by uri, the unit of positions, whether the
editor shows related places, and by what setups of one radio are compared (`unopened.Radios`). It answers a path with `{"found",
"files"}`: diagnostics in the protocol's terms, None where the file is no setup, and the paths of all files that they rest on.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from typing import Any

from lsprotocol import converters
from lsprotocol import types as lsp
from pygls.uris import from_fs_path

from setuplint.book.choices import Choices
from setuplint.book.radios import record_of
from setuplint.club import config, nearest
from setuplint.club.config_sources import DISK
from setuplint.server.analysis import Analysis, full_analysis
from setuplint.server.diagnostics import Diagnostics, fault_diagnostic
from setuplint.server.helper_process import answer_lines
from setuplint.server.neighbours import ELSEWHERE, unusual_findings, with_neighbours
from setuplint.server.open_files import OpenFile, OpenFiles
from setuplint.server.parsed import ParsedText
from setuplint.setup.file_sources import file_content, folders_above
from setuplint.setup.setup_texts import LARGEST, is_setup_text
from setuplint.source import parsed_document

CONVERTER = converters.get_converter()


def main() -> None:
    answer_lines(UnopenedJudge().answer)


class UnopenedJudge:
    """Keeps what was read of other files while the same is open."""

    def __init__(self) -> None:
        self.opened: dict[str, Any] | None = None
        self.files = OpenFiles()

    def answer(self, path: str, opened: dict[str, Any]) -> dict[str, Any]:
        if opened is not self.opened:
            self.opened, self.files = opened, OpenFiles()
            self.files.encoding = opened["encoding"]
            self.files.by_uri = {uri: OpenFile(uri, text, None) for uri, text in opened["texts"].items()}
        try:
            data = file_content(path, LARGEST)
        except OSError:  # it may be gone by now
            data = None
        if data is None or not is_setup_text(data):
            return {"found": None, "files": []}
        file = OpenFile(from_fs_path(path) or path, "", None)
        found = CONVERTER.unstructure(self.diagnostics(file, data, opened["related"]), list[lsp.Diagnostic])
        return {"found": found, "files": list(dict.fromkeys(self.rests_on(file, path)))}

    def diagnostics(self, file: OpenFile, data: bytes, related: bool) -> list[lsp.Diagnostic]:
        try:
            parsed = ParsedText(data, file.name, None, self.files.buffers(file.path, file.name))
            file.last_parsed = file.edits, parsed
            file.club = self.files.club(file)
            analysis = self.compared(full_analysis(parsed, None, file.club.choices), file.path or "")
            return Diagnostics(self.files, file, analysis, related=related).diagnostics()
        except Exception as error:
            return [fault_diagnostic(error)]

    def compared(self, analysis: Analysis, path: str) -> Analysis:
        """With what the setup does otherwise than others of its radio."""
        choices = analysis.choices or Choices()
        opened = self.opened or {}
        written = opened["records"].get(opened["group_of"].get(path), [])
        records = [record for file, data in written if (record := record_of(data, file)) is not None]
        mine = next((record for record in records if record.file == path), None)
        if mine is None or not analysis.parsed.is_readable or ELSEWHERE in choices.left_out:
            return analysis
        return with_neighbours(analysis, unusual_findings(analysis, mine, records, choices))

    def rests_on(self, file: OpenFile, path: str) -> Iterator[str]:
        """The shared parts, every setuplint.toml that is there or could be, and what these name."""
        if file.last_parsed is not None:
            for document in file.last_parsed[1].texts.shared:
                yield os.path.realpath(self.files.path_of(file, document))
        yield from (os.path.join(above, nearest.NAME) for above in folders_above(os.path.dirname(path)))
        for found in nearest.config_files(path):
            try:
                document = parsed_document(DISK.content(found.path, found.root, LARGEST), nearest.NAME)
            except OSError:
                continue
            for folder in config.rule_folders(document, found):
                yield folder
                yield from (entry.path for entry in os.scandir(folder) if entry.name.endswith(".toml"))
            baseline = document.values.get("baseline")
            if isinstance(baseline, str):
                yield os.path.join(os.path.dirname(found.path), baseline)
