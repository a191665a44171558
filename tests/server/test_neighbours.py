"""Set-ups of one radio are compared in the editor too: as a lint of the whole folder does it, and behind what is typed."""

from __future__ import annotations

import asyncio
import os
import subprocess
import sys
from pathlib import Path

import pytest

import setuplint
from setuplint.server.recorder import Recorder
from setuplint.server.toml_walk import MOST_FILES, toml_files

from .conftest import GRAVE, REFERENCE, ROOT, Editor

wire = pytest.mark.asyncio(loop_scope="session")


def other(name: str = "Whimbrel") -> str:
    """The rescue is on another switch."""
    text = REFERENCE.replace("save is pulled", "bail is pulled").replace("Wagtail 470", name)
    return text.replace("[switches.save]", "[switches.bail]")


def write(folder: Path, **files: str) -> None:
    (folder / ".git").mkdir(exist_ok=True)
    for name, text in files.items():
        (folder / f"{name}.toml").write_text(text, encoding="utf-8")


def by_the_command(folder: Path, own: Path) -> list[str]:
    """The messages of a lint of the folder for one of them, as paths are from there."""
    paths = sorted(folder.rglob("*.toml"))
    report = setuplint.lint_together(paths)[paths.index(own)]
    return [x.message.replace(f"{folder}{os.sep}", "") for x in report.findings]


@wire
async def test_what_is_called_otherwise_is_told_as_the_command_tells_it(editor: Editor) -> None:
    folder = editor.path.parent
    write(folder, avocet=other("Avocet"), bittern=other("Bittern"))
    editor.open(REFERENCE, save=True)
    assert await editor.rules() == []  # at once
    await editor.settles(["rescue-elsewhere"])
    (told,) = await editor.told()
    assert told.message.split("\n")[0] == by_the_command(folder, editor.path)[0]
    assert "the rescue is called by save to pulled" in told.message
    assert "in Avocet (avocet.toml) and 1 more" in told.message
    assert editor.marked(told.range) == '"save is pulled"'


@wire
async def test_it_stays_while_one_types_and_goes_when_it_is_mended(editor: Editor) -> None:
    write(editor.path.parent, avocet=other())
    editor.open(REFERENCE, save=True)
    assert await editor.rules() == []
    await editor.settles(["rescue-elsewhere"])
    count = len(editor.client.history)
    for typed in ("# a", "# a comment", "[curves.x", "[curves.x]\npoints = [[0, 0], [1, 1]]"):
        editor.write(f"{REFERENCE}\n{typed}\n")
        await editor.told()
    told = [each for each in editor.client.history[count:] if each.uri == editor.uri]
    assert len(told) >= 4
    assert all("rescue-elsewhere" in {x.code for x in each.diagnostics} for each in told)
    editor.write(other("Wagtail 470"))
    await editor.settles([])


@wire
async def test_what_is_open_counts_as_it_stands(editor: Editor) -> None:
    write(editor.path.parent, avocet=REFERENCE)
    editor.open(REFERENCE, save=True)
    assert await editor.rules() == []
    await asyncio.sleep(1.5)  # it was looked at, and nothing found
    assert await editor.rules() == []
    beside = Editor(editor.client, editor.path.parent / "avocet.toml")
    beside.open(other())  # not saved
    await editor.settles(["rescue-elsewhere"])
    assert await beside.rules() == []  # of two, the first in the folder is right
    beside.write(other().replace('radio = "blue"', ""))
    await editor.settles([])
    beside.close()


@wire
async def test_a_waiver_covers_it_and_one_that_nothing_needs_is_told(editor: Editor) -> None:
    write(editor.path.parent, avocet=other())
    waiver = '\n[[waivers]]\nrule = "rescue-elsewhere"\non = ["rescue"]\nreason = "old radio"\n'
    editor.open(other("Wagtail 470") + waiver, save=True)
    assert await editor.rules() == []
    await editor.settles(["waiver-unneeded"])
    editor.write(REFERENCE + waiver)
    await editor.settles([])
    await asyncio.sleep(1)
    assert await editor.rules() == []


@wire
async def test_no_radio_no_neighbours(editor: Editor) -> None:
    write(editor.path.parent, avocet=other())
    editor.open(GRAVE.replace('radio = "blue"', ""), save=True)
    assert await editor.rules() == ["hold-bypassed"]
    await asyncio.sleep(1)
    assert await editor.rules() == ["hold-bypassed"]


def test_nothing_outside_the_repository_is_looked_at(tmp_path: Path) -> None:
    inside, outside = tmp_path / "club", tmp_path / "elsewhere"
    for each in ("b.toml", "a/z.toml", ".hidden/x.toml", ".x.toml", "a/b/y.toml", "note.txt"):
        path = inside / each
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("")
    outside.mkdir()
    (outside / "secret.toml").write_text("")
    (inside / "link.toml").symlink_to(outside / "secret.toml")
    (inside / "c").symlink_to(outside)
    os.mkfifo(inside / "pipe.toml")
    names = ["b.toml"]  # without a repository, the folder alone
    assert [os.path.relpath(path, inside) for path in toml_files(str(inside / "b.toml"))] == names
    (inside / ".git").mkdir()
    names += ["a/z.toml", "a/b/y.toml"]
    for own in ("b.toml", "a/b/y.toml"):
        assert [os.path.relpath(path, inside) for path in toml_files(str(inside / own))] == names
    for number in range(MOST_FILES):
        (inside / f"n{number}.toml").write_text("")
    assert len(list(toml_files(str(inside / "b.toml")))) == MOST_FILES


def test_the_process_reads_what_is_asked_and_ends_with_the_server(tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_text(REFERENCE)
    (tmp_path / "bad.toml").write_text('[craft]\nradio = "blue"\n[[[')
    recorder = Recorder()
    try:
        path = str(tmp_path / "a.toml")
        found = recorder.record(path)
        assert found.record is not None
        assert (found.record.file, found.record.craft, found.record.radio) == (path, "Wagtail 470", "blue")
        assert found.record.calls.keys() == {"hold", "rescue", "mode normal", "mode idle-up"}
        recorder.open({path: other()})
        again = recorder.record(path)
        assert again.record is not None
        assert again.record.calls["rescue"][0].switch == "bail"
        assert recorder.record(str(tmp_path / "none.toml")).record is None
        assert recorder.record(str(tmp_path / "bad.toml")).record is not None
        process = recorder.process
        assert process is not None
        assert process.stdin is not None
        process.stdin.close()  # as when the server is gone
        assert process.wait(10) == 0
        assert recorder.record(path).record is None
        assert recorder.record(path).record is not None  # another one is started
    finally:
        recorder.end()


def test_nothing_is_imported_from_the_folder_that_the_editor_is_in(tmp_path: Path) -> None:
    (tmp_path / "json.py").write_text("open('executed', 'w')\n")
    (tmp_path / "a.toml").write_text(REFERENCE)
    program = (
        "import os, sys; from setuplint.server.recorder import Recorder; os.chdir(sys.argv[1]); "
        "print(Recorder().record(os.path.realpath('a.toml')).record.radio)"
    )
    command = [sys.executable, "-c", program, str(tmp_path)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=120)
    assert done.stdout.strip() == "blue", done.stderr
    assert not (tmp_path / "executed").exists()
