"""Where the results of `setuplint lint` go: standard output, and files that are written whole or are not there."""

from __future__ import annotations

import argparse
import os
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager

from setuplint.cli import files, whole_files
from setuplint.cli.console import expect_document, flush_out, stdout_look, write_out
from setuplint.cli.trouble import Trouble
from setuplint.formats import reports
from setuplint.formats.summary import CAUTION, Summary
from setuplint.formats.terminal import Look, log_safe
from setuplint.named_tuple import NamedTuple

STDOUT = "-"
ENDS = 4096  # bytes of a file's start and end by which an output of ours is known


class Output(NamedTuple):
    """One output of a run: its format, its path (- is standard output), and how it looks."""

    format: str
    path: str
    look: Look = Look()

    @property
    def is_shown(self) -> bool:
        return self.path == STDOUT


def wanted_outputs(args: argparse.Namespace) -> tuple[Output, ...]:
    """What a command line asks for, each with its look. Trouble where two of them are one file, or one is no output of ours."""
    if args.out and args.format:
        raise Trouble(f"--format is for standard output alone: beside --out write --out {args.format}:-")
    asked = [Output(*each) for each in args.out or [(args.format or "text", STDOUT)]]
    places = [each.path if each.is_shown else os.path.realpath(each.path) for each in asked]
    for n, place in enumerate(places):
        if place in places[:n]:
            raise Trouble(f"two outputs cannot both go to {files.printable(asked[n].path)}")
    link = address(args.link_to)
    return tuple(each._replace(look=_look(each, link)) for each in asked)


def _look(output: Output, link: str) -> Look:
    return (stdout_look() if output.is_shown else Look())._replace(link=link)


def address(text: str | None) -> str:
    """That of --link-to, without a slash at its end; empty without one. Trouble where it would not stay one in Markdown."""
    if text is None:
        return ""
    if not text.startswith(("https://", "http://")) or not text.isprintable() or set(text) & set(" <>()\"'"):
        raise Trouble("--link-to takes an address as https://HOST/CLUB/REPOSITORY/blob/REVISION")
    return text.rstrip("/")


class OutputWriter:
    """Puts the sections of a run together for one output."""

    def __init__(self, output: Output, file: whole_files.GrowingFile | None) -> None:
        self.output, self._file = output, file
        if output.is_shown and output.format != "text":
            expect_document()
        self._writer = reports.report_writer(output.format, output.look)

    def add(self, section: str) -> None:
        self._write(self._writer.add(section))

    def end(self, summary: Summary) -> None:
        self._write(self._writer.end(summary))
        if self._file is None:
            flush_out()  # what cannot be shown is known before a file is put in its place
        else:
            try:
                self._file.finish()
            except OSError as error:
                raise _cannot_write(self.output, error) from None

    def _write(self, text: str) -> None:
        if self._file is None:
            write_out(text)
            return
        try:
            self._file.write(log_safe(text).encode(errors="backslashreplace"))
        except OSError as error:
            raise _cannot_write(self.output, error) from None


@contextmanager
def opened_writers(outputs: Sequence[Output]) -> Iterator[list[OutputWriter]]:
    """A writer for each; a file that is not finished by the end of it is not there. Trouble where one cannot be written, or
    would take the place of what somebody else wrote."""
    with ExitStack() as stack:
        writers = []
        for output in outputs:
            file = None
            if not output.is_shown:
                try:
                    _check_place(output.path)
                    os.makedirs(os.path.dirname(output.path) or os.curdir, exist_ok=True)
                    file = stack.enter_context(whole_files.growing(output.path))
                except OSError as error:
                    raise _cannot_write(output, error) from None
            writers.append(OutputWriter(output, file))
        yield writers


def _check_place(path: str) -> None:
    """Only an output of ours is written over: any other file may be a set-up, or somebody's notes."""
    if not os.path.lexists(path):
        return
    if os.path.isfile(path):
        with open(path, "rb") as file:
            start = file.read(ENDS)
            file.seek(-min(ENDS, os.path.getsize(path)), os.SEEK_END)
            end = file.read()
        if not start or start.startswith(reports.openings()) or _words(end).endswith(_words(CAUTION.encode())):
            return
    raise Trouble(
        f"{files.printable(path)} is there already, and no output of lint: move it away, or give another name"
    )


def _words(data: bytes) -> bytes:
    return b" ".join(data.split())


def _cannot_write(output: Output, error: OSError) -> Trouble:
    return Trouble(f"cannot write {files.printable(output.path)}: {error.strerror or error}")
