"""Setups that are not open: judged where they are asked for, or unasked."""

from __future__ import annotations

import asyncio
import os
import shutil
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest

import setuplint
from setuplint.server.neighbours import Neighbours
from setuplint.server.open_files import OpenFiles
from setuplint.server.unopened import Judged, Unopened
from tests.club.made import write

from .conftest import GRAVE, REFERENCE, ROOT
from .test_neighbours import by_the_command, other
from .wire import Wire

BROKEN = "format = 1\n[craft\n"
BROKEN_RULES = sorted(each.rule for each in setuplint.lint_text(BROKEN).findings)
FLOOR = "[limits]\nvoltage-alarm-below-floor.floor-lipo = "
PULLS = {"textDocument": {"diagnostic": {"dynamicRegistration": True}}}
SHOWS_PROGRESS = {"window": {"workDoneProgress": True}}
NOT_OURS = "[tool.black]\nline-length = 100\n[switches]\na = 1\n"
Messages = list[dict[str, Any]]


@pytest.fixture
def wire() -> Iterator[Wire]:
    made = Wire(start=False)
    yield made
    assert made.end() == (0, b"")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A workspace with a hazard, a safe setup, one that cannot be read, and what is not to be looked at."""
    top = tmp_path / "setups"
    (top / ".git").mkdir(parents=True)
    texts = {"grave": GRAVE, "deep/safe": REFERENCE, "broken": BROKEN, "tool": NOT_OURS}
    write(top, {f"{name}.toml": text for name, text in texts.items()})
    write(top, {"setuplint.toml": f"{FLOOR}3.3\n"})
    write(tmp_path, {"outside.toml": GRAVE, ".hidden/grave.toml": GRAVE})
    shutil.copytree(tmp_path / ".hidden", top / ".hidden")
    os.symlink(tmp_path / "outside.toml", top / "link.toml")
    os.symlink(tmp_path, top / "linked")
    return top


def rules(report: dict[str, Any]) -> list[str]:
    return sorted(each["code"] for each in report["items"])


def by_name(items: Messages) -> dict[str, dict[str, Any]]:
    return {Path(each["uri"]).name: each for each in items}


def pulled(wire: Wire, number: int, previous: Messages, **tokens: Any) -> tuple[Messages, Messages]:
    """The reports of an answer, and what came before it."""
    wire.ask("workspace/diagnostic", {"previousResultIds": previous, **tokens}, number)
    before: Messages = []
    while (found := wire.receive()).get("id") != number or "method" in found:
        before.append(found)
    return found["result"]["items"], before


def known(items: Messages) -> Messages:
    return [{"uri": each["uri"], "value": each["resultId"]} for each in items if "resultId" in each]


def test_what_is_not_open_is_told_to_who_asks(wire: Wire, folder: Path) -> None:
    told = wire.start(PULLS, folder)
    assert "diagnosticProvider" not in told["result"]["capabilities"]  # of what is open it is told unasked
    asked = wire.receive()["params"]["registrations"]
    assert [each["method"] for each in asked] == ["textDocument/diagnostic"]
    items, _ = pulled(wire, 10, [])
    found = by_name(items)
    assert {name: rules(each) for name, each in found.items()} == {
        "grave.toml": ["hold-bypassed"],
        "safe.toml": [],
        "broken.toml": BROKEN_RULES,
    }
    (folder / "deep/safe.toml").write_text(GRAVE, encoding="utf-8")
    (folder / "broken.toml").unlink()
    wire.open(GRAVE, (folder / "grave.toml").as_uri())
    again, _ = pulled(wire, 11, known(items))
    assert {name: rules(each) for name, each in by_name(again).items()} == {
        "safe.toml": ["hold-bypassed"],
        "grave.toml": [],
        "broken.toml": [],
    }
    third, _ = pulled(wire, 12, known(again))
    assert [(each["kind"], Path(each["uri"]).name) for each in third] == [("unchanged", "safe.toml")]
    document = {"textDocument": {"uri": (folder / "grave.toml").as_uri()}}
    assert rules(wire.request("textDocument/diagnostic", document, 13)["result"]) == ["hold-bypassed"]


@pytest.mark.slow
def test_reports_come_one_by_one_with_progress_and_may_be_given_up(wire: Wire, folder: Path) -> None:
    wire.start(PULLS, folder)
    items, before = pulled(wire, 10, [], workDoneToken="work", partialResultToken=7)
    assert items == []
    values = [(each["params"]["token"], each["params"]["value"]) for each in before if each["method"] == "$/progress"]
    assert [value["kind"] for token, value in values if token == "work"] == ["begin", *4 * ["report"], "end"]
    parts = [by_name(value["items"]) for token, value in values if token == 7]
    assert [list(part) for part in parts] == [["broken.toml"], ["grave.toml"], ["safe.toml"]]
    write(folder, {f"many/{n}.toml": GRAVE.replace("470", str(n)) for n in range(30)})
    wire.ask("workspace/diagnostic", {"previousResultIds": [], "partialResultToken": 8}, 11)
    while wire.receive().get("method") != "$/progress":
        pass
    wire.notify("$/cancelRequest", {"id": 11})
    assert wire.answer(11)["error"]["code"] == -32800
    items, before = pulled(wire, 12, [], workDoneToken="more")
    assert len(items) == 33
    wire.ask("workspace/diagnostic", {"previousResultIds": [], "workDoneToken": "last"}, 13)
    wire.notify("window/workDoneProgress/cancel", {"token": "last"})
    assert wire.answer(13)


@pytest.mark.slow
def test_what_is_opened_is_taken_back_in_the_answer_that_waits(wire: Wire, folder: Path) -> None:
    """An editor that has asked before, and takes partial results, is told of the next changes at once."""
    wire.start(PULLS, folder)
    items, _ = pulled(wire, 10, [])
    wire.ask("workspace/diagnostic", {"previousResultIds": known(items), "partialResultToken": 7}, 11)
    while (found := wire.receive()).get("method") != "$/progress":
        pass
    assert {each["kind"] for each in found["params"]["value"]["items"]} == {"unchanged"}
    uri = (folder / "grave.toml").as_uri()
    wire.notify(
        "textDocument/didOpen", {"textDocument": {"uri": uri, "languageId": "toml", "version": 1, "text": GRAVE}}
    )
    parts: Messages = []
    while not parts:
        found = wire.receive()
        parts += [each for each in found.get("params", {}).get("value", {}).get("items", []) if each["kind"] == "full"]
    wire.notify("$/cancelRequest", {"id": 11})
    assert wire.answer(11)["error"]["code"] == -32800
    assert [(each["uri"], each["items"]) for each in parts] == [(uri, [])]


def told_of(wire: Wire, count: int) -> Messages:
    """The next lists of diagnostics; what is asked for is answered."""
    found: Messages = []
    while len(found) < count:
        message = wire.receive()
        if message.get("method") == "textDocument/publishDiagnostics":
            found.append({"uri": message["params"]["uri"], "items": message["params"]["diagnostics"]})
        elif "id" in message and "method" in message:
            wire.raw(f'{{"jsonrpc": "2.0", "id": "{message["id"]}", "result": null}}'.encode())
    return found


@pytest.mark.slow
def test_who_does_not_ask_is_told(wire: Wire, folder: Path) -> None:
    wire.start(SHOWS_PROGRESS, folder)
    found = by_name(told_of(wire, 2))
    assert {name: rules(each) for name, each in found.items()} == {
        "grave.toml": ["hold-bypassed"],
        "broken.toml": BROKEN_RULES,
    }
    (folder / "broken.toml").unlink()
    wire.notify("workspace/didChangeWatchedFiles", {"changes": []})
    (taken_back,) = told_of(wire, 1)
    assert (Path(taken_back["uri"]).name, rules(taken_back)) == ("broken.toml", [])
    uri = (folder / "grave.toml").as_uri()
    assert [each["code"] for each in wire.open(GRAVE, uri)["diagnostics"]] == ["hold-bypassed"]
    wire.notify("textDocument/didClose", {"textDocument": {"uri": uri}})
    closed, again = told_of(wire, 2)
    assert (rules(closed), rules(again)) == ([], ["hold-bypassed"])
    wire.open(f"{FLOOR}3.7\n", (folder / "setuplint.toml").as_uri())
    changed = by_name(told_of(wire, 2))  # the unsaved file chooses for what is not open as well
    assert {name: "voltage-alarm-below-floor" in rules(each) for name, each in changed.items()} == {
        "grave.toml": True,
        "safe.toml": True,
    }
    pulled(wire, 20, [])
    wire.notify("workspace/didChangeWatchedFiles", {"changes": []})


def test_who_asks_is_told_to_ask_again(wire: Wire, folder: Path) -> None:
    """Once for what changes within a pause."""
    wire.start({**PULLS, "workspace": {"diagnostics": {"refreshSupport": True}}}, folder)
    items, before = pulled(wire, 10, [])
    assert [each["method"] for each in before if "id" in each] == ["client/registerCapability"]
    (folder / "deep/safe.toml").write_text(GRAVE, encoding="utf-8")
    for _ in range(3):
        wire.notify("workspace/didChangeWatchedFiles", {"changes": []})
    while wire.receive().get("method") != "workspace/diagnostic/refresh":
        pass
    again, before = pulled(wire, 11, known(items))
    assert [each["method"] for each in before if "id" in each] == []
    assert {name: rules(each) for name, each in by_name(again).items() if each["kind"] == "full"} == {
        "safe.toml": ["hold-bypassed"]
    }


def test_setups_of_one_radio_are_compared(wire: Wire, tmp_path: Path) -> None:
    """As a lint of the folder does it: as they are on the disk, or as they are typed; what is alike is not judged again."""
    (tmp_path / ".git").mkdir()
    own = tmp_path / "wagtail.toml"
    write(tmp_path, {"wagtail.toml": REFERENCE, "avocet.toml": other("Avocet"), "deep/bittern.toml": other("Bittern")})
    wire.start(PULLS, tmp_path)
    items, _ = pulled(wire, 10, [])
    found = {name: each for name, each in by_name(items).items() if each["items"]}
    assert list(found) == ["wagtail.toml"]
    (said,) = found["wagtail.toml"]["items"]
    assert said["code"] == "rescue-elsewhere"
    assert said["message"].split("\n")[0] == by_the_command(tmp_path, own)[0]
    open_uri = (tmp_path / "avocet.toml").as_uri()
    wire.open(REFERENCE.replace("Wagtail 470", "Avocet"), open_uri)  # not saved: now it is the other one that differs
    changed = {}
    for number in range(20, 40):
        items, _ = pulled(wire, number, known(items))
        changed |= {name: rules(each) for name, each in by_name(items).items() if each["kind"] == "full"}
        if changed.get("bittern.toml"):
            break
    assert changed == {"avocet.toml": [], "wagtail.toml": [], "bittern.toml": ["rescue-elsewhere"]}


@pytest.mark.slow
def test_files_beyond_a_bound_are_named(wire: Wire, folder: Path) -> None:
    write(folder, {f"other/{n}.toml": NOT_OURS for n in range(301)})
    wire.start(None, folder)
    while (found := wire.receive()).get("method") != "window/logMessage":
        pass
    assert "has more than 300 TOML files" in found["params"]["message"]
    told_of(wire, 2)


@pytest.mark.slow
def test_a_key_does_not_wait_for_them(wire: Wire) -> None:
    """They are judged by a process of its own: the open file is told of while they are."""
    wire.start(PULLS, ROOT / "examples")
    wire.ask("workspace/diagnostic", {"previousResultIds": [], "partialResultToken": 8}, 10)
    while wire.receive().get("method") != "$/progress":
        pass
    assert [each["code"] for each in wire.open(GRAVE)["diagnostics"]] == ["hold-bypassed"]
    wire.notify("$/cancelRequest", {"id": 10})
    assert wire.answer(10)["error"]["code"] == -32800


DIES = """
import json, sys
for line in sys.stdin:
    path = json.loads(line).get("path", "")
    if "bad" in path:
        sys.exit(1)
    if path:
        print(json.dumps({"found": [], "files": []}), flush=True)
"""


def test_a_file_that_the_judging_process_dies_of_is_not_tried_again(tmp_path: Path) -> None:
    """The others are judged; when it has died too often, that is said."""
    write(tmp_path, {f"{name}.toml": REFERENCE for name in ("a", "bad-1", "c")})
    said: list[str] = []
    files = OpenFiles()
    unopened = Unopened(files, Neighbours(files, lambda file: None), lambda: [str(tmp_path)], said.append)
    unopened.judge_process.program = DIES

    async def judged() -> list[str]:
        found: list[str] = []

        async def tell(new: Sequence[Judged], done: int, total: int) -> None:
            found.extend(Path(each.path).stem for each in new if each.diagnostics is not None)

        await unopened.judge(True, tell)
        return found

    assert [asyncio.run(judged()) for _ in range(2)] == [["a", "c"], ["a", "c"]]
    assert [line.endswith("bad-1.toml could not be judged: open it to see why") for line in said] == [True]
    write(tmp_path, {f"bad-{n}.toml": REFERENCE for n in range(2, 6)})
    asyncio.run(judged())
    assert said[-1] == "setuplint: setups that are not open are no longer judged: lint the folder"
    unopened.judge_process.end()
