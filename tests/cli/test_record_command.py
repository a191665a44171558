"""`setuplint record`: what is proved, what differs, what was measured; and nothing that a stranger's record can do."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path
from typing import Any

import jsonschema
import pytest

import setuplint
from setuplint.book.record_file import LARGEST, SheetRow
from tests.cli.running import Command
from tests.records.made import TEXT, of_setup, record, reference

GOOD = record(of_setup({}), by="Ana", measured={"craft.hover-throttle": 16.0})


def written(folder: Path, text: str = TEXT, **more: Any) -> tuple[str, str]:
    (folder / "wagtail.toml").write_text(text, encoding="utf-8")
    path = folder / "wagtail.record.json"
    path.write_text(GOOD.model_copy(update=more).model_dump_json(), encoding="utf-8")
    return str(folder / "wagtail.toml"), str(path)


def test_a_record_that_proves_every_box(command: Command, folder: Path) -> None:
    setup, of = written(folder)
    boxes = len(reference()[1].steps)
    done = command("record", setup, of)
    assert (done.status, done.err) == (0, "")
    assert done.out == (
        "Wagtail 470: a record of 2024-11-28 by Ana, for fingerprint 2ff8a47f.\n"
        f"Proved: {boxes} of {boxes} boxes.\nMeasured: craft.hover-throttle +16 % (58 of 100, 1580 µs), as in the file.\n"
    )
    told = json.loads(command("record", setup, of, "--format", "json").out)
    assert (told["fits"], told["holds"], told["open"], told["proved"]) == (True, True, [], list(range(1, boxes + 1)))
    assert command("record", setup, of, "--write").out.endswith("the file has every number that was measured.\n")
    assert (folder / "wagtail.toml").read_text(encoding="utf-8") == TEXT


def test_another_fingerprint_proves_nothing_and_writes_nothing(command: Command, folder: Path) -> None:
    changed = TEXT.replace("value = 55", "value = 56")
    setup, of = written(folder, changed, measured={"craft.hover-throttle": 20.0})
    done = command("record", setup, of, "--write")
    assert (done.status, "The record proves nothing of it." in done.words) == (2, True)
    assert "nothing was written" in done.err
    assert Path(setup).read_text(encoding="utf-8") == changed


def test_boxes_that_are_open_or_not_on_the_card(command: Command, folder: Path) -> None:
    strange = GOOD.boxes[3].model_copy(update={"mark": "ffffffff"})
    setup, of = written(folder, boxes=[*GOOD.boxes[:2], strange])
    told = json.loads(command("record", setup, of, "--format", "json").out)
    assert (told["proved"], told["open"][:2], len(told["unknown"])) == ([1, 2], [3, 4], 1)
    assert told["holds"] is False


def test_write_puts_the_numbers_in_and_softens_the_curve_anew(command: Command, folder: Path) -> None:
    text = TEXT.replace("hover-collective = 30", "")
    given = {"craft.hover-throttle": 60.0, "craft.hover-collective": 64.0, "battery.hover-current-a": 26.5}
    setup, of = written(folder, text, measured=given, scale="of-100")
    done = command("record", setup, of, "--write", "--today", "2026-11-29")
    assert (done.status, done.err) == (0, "")
    now = setuplint.load(setup).model
    assert (now.craft.hover_throttle, now.craft.hover_collective) == (20, 28)
    assert now.battery.hover_current_a == Fraction("26.5")
    assert now.curves["hover-soft"].points == ((-100, -100), (-50, -10), (0, 20), (50, 50), (100, 100))
    assert "| 3 | 0 % | +20 % | 60 | 1600 µs |  |" in done.out
    assert "The fingerprint is 0d12fb89 now" in done.out
    changed = Path(setup).read_text(encoding="utf-8").splitlines()
    assert len([line for line in TEXT.splitlines() if "#" in line and line not in changed]) <= 3  # comments stay


def test_write_says_why_a_curve_stays(command: Command, folder: Path) -> None:
    setup, of = written(folder, measured={"craft.governed-above": 20.0})
    done = command("record", setup, of, "--write")
    assert done.status == 0
    assert (
        "Curve hover-soft was left as it is: by the numbers that are there now no channel hovers on it." in done.words
    )


@pytest.mark.slow
@pytest.mark.parametrize(
    ("old", "new", "measured"),
    [
        ("x", "x", {"craft.hover-throttle": 151.0}),
        ("x", "x", {"craft.motor-off": -94.0, "craft.hover-throttle": 58.0}),
        ("x", "x", {"craft.hover-throttle": 20.0, "craft.rotor-free": -96.0}),
        ("[0, 16], ", "[0, 16], # soft\n", {"craft.motor-off": -94.0, "craft.hover-throttle": 20.0}),
    ],
    ids=["out-of-range", "other-scale", "contradicts", "does-not-fit"],
)
def test_write_is_whole_or_not_at_all(
    command: Command, folder: Path, old: str, new: str, measured: dict[str, float]
) -> None:
    text = TEXT.replace(old, new)
    setup, of = written(folder, text, measured=measured)
    done = command("record", setup, of, "--write")
    assert (done.status, done.err.count("\n"), "nothing was written" in done.err) == (2, 1, True)
    assert Path(setup).read_text(encoding="utf-8") == text


HOSTILE = {
    "empty": b"",
    "no-json": b"\xff\xfe{",
    "deep": b"[" * 100_000,
    "deep-in": b'{"boxes":' + b"[" * 100_000,
    "digits": b'{"record":' + b"1" * 100_000 + b"}",
    "large": b" " * (LARGEST + 1),
    "list": b"[1, 2]",
    "version": GOOD.model_dump_json().replace('"record":1', '"record":2').encode(),
    "key": GOOD.model_dump_json().replace('"by"', '"\u202e\\nby"').encode(),
    "infinite": GOOD.model_dump_json().replace("16.0", "1e999").encode(),
    "path": GOOD.model_dump_json().replace("craft.hover-throttle", "claims.0").encode(),
    "kind": GOOD.model_dump_json().replace('"done":true', '"done":"yes"').encode(),
}


@pytest.mark.parametrize("data", HOSTILE.values(), ids=list(HOSTILE))
def test_what_is_no_record_is_one_line(command: Command, folder: Path, data: bytes) -> None:
    setup, of = written(folder)
    Path(of).write_bytes(data)
    done = command("record", setup, of)
    assert (done.status, done.out, done.err.count("\n")) == (2, "", 1), done.err
    assert "record" in done.err
    assert len(done.err) < 700
    assert "\u202e" not in done.err


def test_the_schema_is_of_what_pages_save(command: Command, folder: Path) -> None:
    schema = json.loads(command("schema", "--of", "record").out)
    jsonschema.Draft202012Validator.check_schema(schema)
    valid = jsonschema.Draft202012Validator(schema).is_valid
    given = json.loads(GOOD.model_dump_json())
    assert valid(given)
    assert not valid({**given, "more": 1})
    assert not valid({**given, "fingerprint": "2FF8A47F"})


def test_the_library_checks_one_too(folder: Path) -> None:
    setup, of = written(folder)
    check = setuplint.check_record(setuplint.load(setup), of)
    assert (check.fits, check.holds, check.differing) == (True, True, ())
    with pytest.raises(ValueError, match="not a record"):
        setuplint.check_record(setuplint.load(setup), setup)


def test_nothing_in_a_record_drives_a_terminal(command: Command, folder: Path) -> None:
    strange = "x\x1b[2J\n::error::\r\u202e\x9b"
    rows = [SheetRow(row=strange, done=False, read=strange)]
    setup, of = written(folder, by=strange, craft=strange, notes=f"{strange}\nmore", sheet=rows)
    done = command("record", setup, of, "--write")
    assert done.out.count("\\x1b[2J") == 5
    assert all(line.isprintable() and not line.startswith("::") for line in done.out.split("\n"))
