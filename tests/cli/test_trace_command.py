"""`setuplint trace`: what every channel puts out, and why. The numbers are worked out by hand from the reference."""

from __future__ import annotations

import csv
import io
import re
from fractions import Fraction
from pathlib import Path

import pytest

import setuplint
from setuplint.cli import sweep, trace
from setuplint.dataclass import replace
from setuplint.engine.answers import Timing
from setuplint.formats.case_text import trace_command
from setuplint.plain.evaluate import evaluate
from tests.cli.running import REFERENCE, ROOT, Command, Ran

FILE = ROOT / "examples" / "reference.toml"

MADE = """\
format = 1
[craft]
motor-off = -95
[switches.hold]
kind = "two-position"
[switches.save]
kind = "momentary"
[sensors.pack]
reads = "pack-voltage"
[sensors.cell]
reads = "cell-voltage"
[battery]
cells = 6
[conditions.saved]
when = "save is pulled"
until = "hold is on"
[channels.motor]
drives = "motor"
from = "throttle"
[channels.other]
[channels.curved]
from = "throttle"
curve = "bent"
[curves.bent]
points = [[-100, -100], [-50, 2], [0, 16], [50, 30], [100, 100]]
smoothing = "unknown"
[overrides.held]
channel = "motor"
value = -100
when = "hold is on"
[overrides.rescue]
channel = "motor"
value = 35
when = "saved"
[alarms.low]
when = "pack < 21"
tone = true
[start]
requires = "hold is on"
"""


def row(done: Ran, channel: str) -> str:
    """What is said of a channel, on one line."""
    found = re.search(rf"^  {channel} +(.*(?:\n {{6,}}.*)*)", done.out, re.MULTILINE)
    assert found, done.out
    return " ".join(found.group(1).split())


@pytest.fixture
def made(folder: Path) -> Path:
    path = Path("made.toml")
    path.write_text(MADE, encoding="utf-8")
    return path


def test_one_state_of_the_reference(command: Command) -> None:
    done = command("trace", FILE, "--set", "flight=normal", "--set", "throttle=20,hold=off")
    assert done.status == 0
    line = REFERENCE[: REFERENCE.index("[channels.pitch]")].count("\n") + 1
    assert row(done, "pitch") == f"+40 % its own line (line {line})", "30 + 20 of 100 of the way to 80"
    assert row(done, "attitude").startswith("+100 % its own line")
    assert "mode: normal" in done.words


def test_at_rest_where_nothing_is_set(command: Command) -> None:
    """Rest: MEANING.md section 1. Neither alarm holds, so the pack is in its upper region."""
    done = command("trace", FILE)
    assert row(done, "motor").startswith("-100 % (0 of 100, 1000 µs)")
    assert "alarms: none" in done.words
    assert "throttle -100 %" in done.words
    assert "sprung switches released" in done.words


def test_an_override_and_a_modes_own_line_are_named(command: Command) -> None:
    done = command("trace", FILE, "--set", "flight=idle-up-1", "--set", "hold=on")
    at = REFERENCE[: REFERENCE.index("[overrides.held]")].count("\n") + 1
    assert row(done, "motor") == f"-100 % (0 of 100, 1000 µs) held (line {at})"
    assert re.fullmatch(r"-100 % in.idle-up \(line \d+\)", row(done, "pitch"))
    assert "state: hold called" in done.words


def test_a_tie_is_shown_both_ways(command: Command, made: Path) -> None:
    done = command("trace", made, "--set", "hold=on", "--then", "hold=off,save=pulled")
    assert done.status == 0
    assert row(done, "motor").startswith("-100 %"), "the first step: hold alone"
    tied = command("trace", made, "--set", "hold=off", "--set", "save=pulled")
    assert row(tied, "motor").startswith("+35 %")
    until = MADE.replace('until = "hold is on"', 'until = "cell < 1"')
    made.write_text(until, encoding="utf-8")
    both = command("trace", made, "--set", "hold=on,save=pulled")
    assert row(both, "motor") == (
        "-100 % (0 of 100, 1000 µs) held (line 27) in a tie or +35 % (67.5 of 100, 1675 µs) rescue (line 31) in a tie"
    )


def test_memory_by_steps_from_power_up(command: Command, made: Path) -> None:
    done = command("trace", made, "--set", "hold=on", "--then", "hold=off,save=pulled", "--then", "save=released")
    steps = done.out.split("\n\n1. ")[-1].split("\n\n2. ")
    assert "1. switch on with hold on" in done.out
    assert "2. put hold off, pull save" in done.out
    last = done.out.split("3. let go of save")[1]
    assert "+35 % (67.5 of 100, 1675 µs)" in last
    assert "conditions: saved" in " ".join(last.split())
    assert "pack unheard" in steps[0]
    assert "pack unheard" not in last
    assert "does not let the transmitter start" not in done.out


def test_a_power_up_that_the_start_check_refuses_is_told(command: Command, made: Path) -> None:
    done = command("trace", made, "--then", "hold=on")
    assert "The start check does not let the transmitter start like this." in done.out


def test_what_is_not_described_is_not_known(command: Command, made: Path) -> None:
    assert row(command("trace", made), "other") == "not known not described"


def test_unknown_smoothing_is_shown_each_way(command: Command, made: Path) -> None:
    done = command("trace", made, "--set", "throttle=25")
    shown = row(done, "curved")
    parts = [
        rf"\+\S+ % its own line \(line 21\), if smoothing is {kind}" for kind in ("monotone", "cardinal", "natural")
    ]
    assert re.fullmatch(" or ".join(parts), shown)
    at_a_point = row(command("trace", made, "--set", "throttle=50"), "curved")
    assert at_a_point.startswith("+30 % its own line")


def test_sensors_of_one_pack_show_one_voltage(command: Command, made: Path) -> None:
    done = command("trace", made, "--set", "pack=19.8")
    assert "pack 19.8 V, cell 3.3 V" in done.words
    assert "alarms: low" in done.words
    assert command("trace", made, "--set", "pack=lost,cell=3").status == 0
    made.write_text(MADE + '[alarms.heard]\nwhen = "cell >= 0"\ntone = true\n', encoding="utf-8")
    assert "cell lost" in command("trace", made).words, "at rest the fewest alarms sound"
    assert "pack 19.8 V, cell 3.3 V" in command("trace", made, "--set", "pack=19.8").words


@pytest.mark.parametrize(
    ("args", "complaint"),
    [
        (("--set", "holt=on"), "there is no control or sensor holt; did you mean hold?"),
        (
            ("--set", "mode=normal"),
            "there is no control or sensor mode; there is hold, save, throttle, aileron, elevator, rudder, pack, cell",
        ),
        (("--sweep", "hold"), "there is no stick or knob hold; there is throttle, aileron, elevator, rudder"),
        (("--sweep", "throttle", "--set", "throttle=3"), "leave it out of the last --set or --then"),
        (("--set", "hold=onn"), "hold has no position onn; did you mean on? (it has off, on)"),
        (("--set", "throttle=101"), "throttle takes percent from -100 to 100, not 101"),
        (("--set", "throttle=1e5"), "throttle takes percent"),
        (("--set", "throttle=nan"), "throttle takes percent"),
        (("--set", "pack=31"), "from 0 to 30, not 31"),
        (("--set", "hold"), "is not like hold=on"),
        (("--set", ""), "is not like hold=on"),
        (("--set", "hold=on,hold=off"), "hold is set twice"),
        (("--set", "pack=20,cell=4"), "pack and cell are of one pack"),
        (("--set", "pack=unheard,cell=4"), "unheard is about the receiver"),
        (("--set", "pack=20", "--then", "hold=on"), "at power-up nothing is heard"),
        (("--then", "hold=on", "--then", "pack=unheard"), "once the receiver is on"),
    ],
)
def test_wrong_settings(command: Command, made: Path, args: tuple[str, ...], complaint: str) -> None:
    done = command("trace", made, *args)
    assert done.status == 2
    assert complaint in done.err
    assert len(done.err.splitlines()) == 1
    assert done.out == ""


def test_what_is_wrong_with_the_file_stands_beside_what_is_asked_wrongly(command: Command, folder: Path) -> None:
    Path("x.toml").write_text(MADE.replace("value = 35", "value = 350"), encoding="utf-8")
    done = command("trace", "x.toml", "--set", "sav=pulled")
    assert (done.status, done.out, len(done.err.splitlines())) == (2, "", 1)
    assert "there is no control or sensor sav" in done.err
    assert "(x.toml: 1 mistake in it, and what rests on that is not known: setuplint lint shows where)" in done.err


def test_a_file_with_mistakes_is_traced_as_far_as_it_is_known(command: Command, folder: Path) -> None:
    Path("x.toml").write_text(MADE.replace("value = 35", "value = 350"), encoding="utf-8")
    done = command("trace", "x.toml", "--set", "save=pulled")
    assert done.status == 0
    assert done.err == (
        "setuplint: x.toml: 1 mistake in it, and what rests on that is not known: setuplint lint shows where\n"
    )
    assert row(done, "motor").startswith("not known")


@pytest.mark.parametrize("text", [b"", "format = 1".encode("utf-16"), b"# nothing yet\n"])
def test_where_nothing_can_be_read_nothing_is_traced(command: Command, text: bytes) -> None:
    done = command("trace", "-", stdin=text)
    assert (done.status, done.out) == (2, "")
    assert done.err == "setuplint: stdin: nothing of a set-up can be read from it: setuplint lint shows why\n"


def test_a_missing_file(command: Command, folder: Path) -> None:
    done = command("trace", "none.toml")
    assert (done.status, done.err) == (2, "setuplint: cannot read none.toml: No such file or directory\n")


def test_standard_input(command: Command) -> None:
    assert row(command("trace", "-", stdin=MADE.encode()), "motor").startswith("-100 %")


TREE = """\
  because
  ├─ held (line 27)
  │  └─ hold is on: yes
  └─ alarm low sounds (line 35)
     └─ pack < 21: yes
"""
REMEMBERED = """\
  because
  └─ rescue (line 31)
     └─ saved (line 14): on, from before
        ├─ save is pulled: no
        └─ until hold is on
           └─ hold is on: no
"""


def test_the_chain_behind_what_decides(command: Command) -> None:
    done = command("trace", "-", "--set", "hold=on,pack=20", stdin=MADE.encode())
    assert TREE in done.out


def test_the_chain_says_what_is_remembered(command: Command) -> None:
    done = command(
        "trace",
        "-",
        "--set",
        "hold=on",
        "--then",
        "hold=off,save=pulled",
        "--then",
        "save=released",
        stdin=MADE.encode(),
    )
    assert REMEMBERED in done.out


def test_a_compound_formula_stands_over_its_parts(command: Command) -> None:
    text = MADE.replace('when = "saved"', 'when = "saved and (pack < 30 or not save is pulled)"')
    done = command("trace", "-", "--set", "save=pulled,pack=25", stdin=text.encode())
    assert "rescue (line 31), saved and (pack < 30 or save is not pulled)\n" in done.out


def test_a_chain_of_many_conditions_ends(command: Command) -> None:
    chain = "".join(f'[conditions.c{n}]\nwhen = "c{n + 1} or c{n + 1}"\n' for n in range(200))
    text = MADE.replace('when = "saved"', 'when = "c0"') + chain + '[conditions.c200]\nwhen = "save is pulled"\n'
    done = command("trace", "-", "--set", "save=pulled", stdin=text.encode())
    assert done.status == 0
    assert "c11 (line" in done.out
    assert "c20 (line" not in done.out


@pytest.mark.parametrize(
    ("said", "shown"),
    [
        ("throttle=58 of 100", "throttle +16 %"),
        ("throttle=40%", "throttle +40 %"),
        ("pack=21.7 V", "pack 21.7 V"),
        ("hold=ON", "hold on"),
    ],
)
def test_numbers_are_read_as_they_are_printed(command: Command, said: str, shown: str) -> None:
    assert shown in " ".join(command("trace", str(FILE), "--set", said).out.split("channel")[0].split())


def test_a_sweep_is_drawn(command: Command) -> None:
    done = command("trace", str(FILE), "--sweep", "throttle")
    drawing = done.out.split("motor, % over throttle, %\n")[1].split("\n\n")[0].splitlines()
    assert len(drawing) == 19
    assert drawing[18] == "  motor: -100 % (0 of 100, 1000 µs) to +100 % (100 of 100, 2000 µs)"
    assert drawing[0].rstrip().endswith("●●")
    assert drawing[0].lstrip().startswith("+100")
    assert drawing[16].split()[:2] == ["-100", "●"]
    assert done.out.endswith("The same all the way: roll 0 %, tail-gain +42 %, attitude +100 %.\n")


def test_a_sweep_as_csv_has_a_row_for_each_percent(command: Command) -> None:
    done = command("trace", str(FILE), "--sweep", "throttle", "--csv", "--set", "flight=idle-up-1")
    rows = list(csv.DictReader(io.StringIO(done.out)))
    assert [int(row["throttle"]) for row in rows] == list(range(-100, 101))
    assert {row["motor %"] for row in rows} == {"45"}
    assert {row["mode"] for row in rows} == {"idle-up"}
    assert {(row["motor of 100"], row["motor µs"]) for row in rows} == {("72.5", "1725")}
    assert [rows[n]["pitch µs"] for n in (0, 100, 200)] == ["1000", "1600", "2000"]
    assert [rows[n]["pitch %"] for n in (0, 50, 100, 150, 200)] == ["-100", "-40", "20", "60", "100"]


def test_pulses_in_csv_are_the_files_and_a_mixer_has_none(command: Command) -> None:
    text = FILE.read_text(encoding="utf-8").replace("[craft]", "[craft]\npulse = { centre = 1520, per-percent = 4 }", 1)
    swept = ("trace", "-", "--sweep", "throttle", "--csv")
    row = next(csv.DictReader(io.StringIO(command(*swept, stdin=text.encode()).out)))
    assert (row["motor µs"], row["roll µs"], "roll of 100" in row) == ("1120", "1520", False)
    plate = text + '\n[swash]\nservos = "three-120"\ncollective = 50\ncyclic = 40\n'
    row = next(csv.DictReader(io.StringIO(command(*swept, stdin=plate.encode()).out)))
    assert [name for name in row if name.endswith("µs")] == ["motor µs", "tail-gain µs", "attitude µs"]


def test_a_sweep_shows_a_jump_and_who_decides(command: Command) -> None:
    text = MADE.replace('when = "hold is on"\n[overrides.rescue]', 'when = "throttle > 50"\n[overrides.rescue]')
    rows = list(
        csv.DictReader(io.StringIO(command("trace", "-", "--sweep", "throttle", "--csv", stdin=text.encode()).out))
    )
    assert (rows[150]["motor %"], rows[150]["motor decided by"]) == ("50", "")
    assert (rows[151]["motor %"], rows[151]["motor decided by"]) == ("-100", "held")
    assert "│" in command("trace", "-", "--sweep", "throttle", stdin=text.encode()).out


TIED = """
[overrides.t1]
channel = "roll"
value = 50
when = "rates is full"
[overrides.t2]
channel = "roll"
value = -50
when = "rates is full"
"""


def test_a_sweep_says_each_way_that_a_channel_may_go(command: Command) -> None:
    """Of a tie either may win, and a curve whose smoothing is unknown is any of three."""
    text = FILE.read_text(encoding="utf-8").replace('smoothing = "monotone"', 'smoothing = "unknown"') + TIED
    swept = ("trace", "-", "--sweep", "throttle", "--set", "rates=full")
    shown = " ".join(command(*swept, stdin=text.encode()).out.split())
    assert "roll +50 % if t1 wins or -50 % if t2 wins" in shown
    assert "a line for each way: if smoothing is monotone, if smoothing is cardinal, if smoothing is natural" in shown
    row = list(csv.DictReader(io.StringIO(command(*swept, "--csv", stdin=text.encode()).out)))[20]
    plain = command("trace", "-", "--set", "rates=full,throttle=-80", stdin=text.encode()).out
    values = [row[f"motor % if smoothing is {kind}"] for kind in ("monotone", "cardinal", "natural")]
    assert all(value.split(".")[0] in plain for value in values)
    assert len(set(values)) == 3
    assert (row["roll % if t1 wins"], row["roll % if t2 wins"], row["roll decided by"]) == ("50", "-50", "t1 or t2")


def test_a_sweep_says_what_it_leaves_out(command: Command) -> None:
    text = FILE.read_text(encoding="utf-8")
    for n in range(150):
        text += f'\n[overrides.t{n}]\nchannel = "roll"\nvalue = {n % 5}\nwhen = "throttle > {n / 7:.2f}"\n'
    swept = ("trace", "-", "--sweep", "throttle")
    shown = " ".join(command(*swept, stdin=text.encode()).out.split())
    said = "no more than 100 places between two percent are looked at", "roll: 147 more tie"
    assert shown.endswith(f"Left out: {', '.join(said)}.")
    done = command(*swept, "--csv", stdin=text.encode())
    assert all(f"left out: {words}" in done.err for words in said)
    assert len(done.out.splitlines()) == 302


def large(channels: int, ties: int) -> bytes:
    """The reference with more channels, on each so many overrides of which any may win."""
    text = FILE.read_text(encoding="utf-8").replace('smoothing = "monotone"', 'smoothing = "unknown"')
    for n in range(channels):
        text += f'\n[channels.x{n}]\nfrom = "throttle"\ncurve = "hover-soft"\n'
        for tie in range(ties):
            text += f'[overrides.x{n}-{tie}]\nchannel = "x{n}"\nvalue = {tie}\nwhen = "hold is off"\n'
    return text.encode()


def test_a_large_file_is_worked_out_a_few_times_alone(command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    """However many channels there are, and overrides that tie on each: each time takes as long as the file is large."""
    asked = []

    def counted(*given: object) -> object:
        asked.append(given)
        return evaluate(*given)  # type: ignore[arg-type]

    for module in (trace, sweep):
        monkeypatch.setattr(module, "evaluate", counted)
    done = command("trace", "-", stdin=large(80, 15))
    assert len(asked) <= 1 + 10 * 3 + 1, "ten of a tie, three smoothings"
    assert "x79-9 (line" in done.out
    assert "x79-10 (line" not in done.out
    assert done.out.count("5 more tie") == 80
    asked.clear()
    swept = " ".join(command("trace", "-", "--sweep", "throttle", stdin=large(80, 15)).out.split())
    assert len(asked) <= 12 * 41
    assert "of so large a file only every 5 percent is looked at" in swept
    assert "x58: 12 more tie, 21 channels." in swept, "five of the reference are among the 64"
    rows = command("trace", "-", "--sweep", "throttle", "--csv", stdin=large(80, 15)).out.splitlines()
    assert len(rows) < 50


def test_a_sweep_says_what_is_not_known(command: Command) -> None:
    text = FILE.read_text(encoding="utf-8").replace(
        "[overrides.held]", "[channels.light]\n[channels.dark]\n[overrides.held]"
    )
    text += '\n[overrides.lit]\nchannel = "light"\nvalue = 50\nwhen = "throttle > 20"\n'
    done = command("trace", "-", "--sweep", "throttle", stdin=text.encode())
    assert done.out.endswith(
        "attitude +100 %.\n  Known in part: light +50 % (not known from -100 % to +20 %).\n  Not known: dark.\n"
    )


@pytest.mark.parametrize(
    ("when", "place"), [("throttle > -22 and throttle < -20", -21), ("throttle > 20 and throttle < 21", 20.5)]
)
def test_a_spike_narrower_than_a_column_is_drawn(command: Command, when: str, place: float) -> None:
    """Also between two whole percent."""
    text = FILE.read_text(encoding="utf-8") + f'\n[overrides.t1]\nchannel = "roll"\nvalue = 90\nwhen = "{when}"\n'
    done = command("trace", "-", "--sweep", "throttle", stdin=text.encode())
    assert "●" in done.out.split("roll, % over throttle, %\n")[1].splitlines()[1]
    rows = csv.DictReader(io.StringIO(command("trace", "-", "--sweep", "throttle", "--csv", stdin=text.encode()).out))
    assert [float(row["throttle"]) for row in rows if row["roll %"] == "90"] == [place]


@pytest.mark.parametrize(
    ("words", "said"),
    [(["--sweep", "throtle"], "did you mean throttle?"), (["--csv"], "--csv goes with --sweep")],
)
def test_what_cannot_be_swept(command: Command, words: list[str], said: str) -> None:
    done = command("trace", str(FILE), *words)
    assert done.status == 2
    assert said in done.err


def test_a_trim_is_set_as_a_case_names_it(command: Command, folder: Path) -> None:
    Path("x.toml").write_text(REFERENCE.replace("trim = 0 ", "trim = 25 "), encoding="utf-8")
    (case,) = setuplint.lint("x.toml", only=["trim-lifts-motor"]).findings
    assert case.witness["throttle trim"] == 20
    given = [word for name, where in case.witness.items() for word in ("--set", f"{name}={where}")]
    for words in (given, [*given[:-2], "--then", "throttle trim=20"]):
        done = command("trace", "x.toml", *words)
        assert "motor -57.58 % (21.21 of 100" in done.words, case.outputs
        assert "throttle trim +20 %" in done.words
    far = command("trace", "x.toml", "--set", "throttle trim=30").err
    assert far == "setuplint: throttle trim takes percent from -25 to 25, not 30\n"
    timed = replace(case, steps=({"throttle trim": Fraction(20)},), timing=Timing((Fraction(0),), Fraction(0), None))
    assert trace_command(timed, "x.toml") == 'setuplint trace x.toml --set "throttle trim=20,wait=5"'
