"""Shared parts: what `extends` brings, what cannot be taken, and which file each mistake is in."""

from __future__ import annotations

from pathlib import Path
from random import Random

import pytest

from setuplint.setup import Setup, SetupProblem, Texts, loaded_setup
from setuplint.setup.file_sources import TextsByName
from setuplint.setup.formulas import Unknown

NAME = "craft/wagtail.toml"
RADIO = '[switches.hold]\nkind = "two-position"\n[modes.calm]\nwhen = "hold is off"\n[modes.wild]\n'
OWN = 'format = 1\nextends = "../radio.toml"\n'


def read(own: str, name: str = NAME, **shared: str | bytes) -> tuple[Texts, Setup, tuple[SetupProblem, ...]]:
    """`shared` are the texts at the top: radio is radio.toml."""
    texts: dict[str, str | bytes] = {f"{file}.toml": text for file, text in shared.items()}
    return loaded_setup(own, name, TextsByName({name: own, **texts}, name))


def pointed(texts: Texts, path: tuple[str | int, ...], file: str = "", *, key: bool = False) -> tuple[str, str]:
    """The file that a place is in, and what stands there."""
    document = texts.holder(path, file)
    span = (document.key_span(path) if key else None) or document.span(path)
    return document.name, document.text[slice(*span)]


def said(own: str, **shared: str | bytes) -> list[tuple[str, str, str]]:
    """Rule, file and text pointed at of every problem."""
    texts, _, problems = read(own, **shared)
    return [(p.rule, *pointed(texts, p.path, p.file, key=p.key)) for p in problems]


def test_parts_come_with_their_places() -> None:
    texts, setup, problems = read(
        OWN + '[overrides.x]\nchannel = "m"\nvalue = 1\nwhen = "hold is on"\n[channels.m]\n', radio=RADIO
    )
    assert problems == ()
    assert setup.switches["hold"].positions == ("off", "on")
    assert list(setup.modes) == ["calm", "wild"]
    assert pointed(texts, ("switches", "hold", "kind")) == ("radio.toml", '"two-position"')
    assert pointed(texts, ("overrides", "x", "value")) == (NAME, "1")
    assert pointed(texts, ("switches",)) == ("radio.toml", "switches")
    assert setup.brought == {("switches", "hold"), ("modes", "calm"), ("modes", "wild")}


def test_shared_modes_come_before_own_ones_those_of_the_farthest_file_first() -> None:
    radio = 'extends = "all.toml"\n[modes.b]\nwhen = "x is on"\n'
    own = OWN + '[modes.c]\n[switches.x]\nkind = "two-position"\n'
    _, setup, problems = read(own, radio=radio, all='[modes.a]\nwhen = "x is off"\n')
    assert (list(setup.modes), problems) == (["a", "b", "c"], ())


def test_a_shared_last_mode_without_when_leaves_no_room_for_own_ones() -> None:
    assert said(OWN + '[modes.own]\nwhen = "hold is on"\n', radio=RADIO) == [
        ("not-a-setup", "radio.toml", "[modes.wild]"),
    ]


def test_formulas_of_shared_modes_name_what_the_setup_declares() -> None:
    radio = '[modes.a]\nwhen = "armed"\n[modes.b]\n'
    own = OWN + '[switches.s]\nkind = "two-position"\n[conditions.armed]\nwhen = "s is on"\n'
    assert said(own, radio=radio) == []
    assert said(OWN, radio=radio) == [("unknown-name", "radio.toml", '"armed"')]


@pytest.mark.parametrize(
    ("own", "rule", "subject"),
    [
        ('[switches.hold]\nkind = "two-position"\nplace = "here"\n', "name-clash", "hold"),
        ('[sticks.throttle]\ntrim = 1\n', "name-clash", "throttle"),
        ('[modes.calm]\nwhen = "hold is off"\n', "not-a-setup", "modes.calm"),
    ],
)  # fmt: skip
def test_a_name_in_both_files_is_a_clash_and_what_they_say_differently_is_not_known(
    own: str, rule: str, subject: str
) -> None:
    radio = '[sticks.throttle]\ntrim = 2\n[switches.hold]\nkind = "two-position"\n[modes.calm]\nwhen = "hold is on"\n'
    texts, setup, (problem,) = read(OWN + own, radio=radio)
    assert (problem.rule, problem.subject, problem.file) == (rule, subject, NAME)
    assert "radio.toml" in problem.message
    (other,) = problem.related
    assert other.file == "radio.toml"
    assert pointed(texts, other.path, other.file, key=True) == ("radio.toml", subject.split(".")[-1])
    if "kind" in own:
        assert (setup.switches["hold"].kind, setup.switches["hold"].place) == ("two-position", None)
    if "trim" in own:
        assert setup.sticks["throttle"].trim is None
    if "modes" in own:
        assert isinstance(setup.modes["calm"].when, Unknown)


HOLD = '[switches.hold]\nkind = "two-position"\n'
SPRUNG = '[switches.hold]\nkind = "momentary"\npositions = ["off", "on"]\n'
CALM = '[modes.calm]\nwhen = "hold is on"\n'
CALLED = '[intent]\nhold = "hold is on"\n'


@pytest.mark.parametrize(("own", "radio"), [(HOLD, SPRUNG), (HOLD, "[switches]\nhold = 5\n"), (CALM, HOLD + CALM)])
def test_what_hangs_on_a_name_in_both_files_is_not_known(own: str, radio: str) -> None:
    _, setup, (problem,) = read(OWN + own + CALLED, radio=radio)
    assert "not known which" in problem.help
    assert any(isinstance(x, Unknown) for x in (setup.intent.hold, *(mode.when for mode in setup.modes.values())))


def test_a_name_in_both_files_that_says_the_same_is_known() -> None:
    _, setup, (problem,) = read(OWN + HOLD + CALLED, radio=HOLD)
    assert problem.help == "keep one of them"
    assert (setup.broken, "hold" in setup.switches) == (frozenset(), True)


def test_controls_of_different_kinds_clash_across_the_files() -> None:
    own = OWN + '[conditions.hold]\nwhen = "throttle > 0"\n'
    texts, _, problems = read(own, radio='[switches.hold]\nkind = "two-position"\n')
    assert [p.rule for p in problems] == ["name-clash"]
    files = {pointed(texts, path)[0] for path in (problems[0].path, problems[0].related[0].path)}
    assert files == {NAME, "radio.toml"}


def test_what_cannot_be_shared_is_one_finding_in_that_file_and_not_taken() -> None:
    radio = '[craft]\nname = "x"\n[channels.motor]\nnumber = 2\n[[waivers]]\nrule = "x"\nreason = "y"\n' + RADIO
    texts, setup, (problem,) = read(OWN, radio=radio)
    assert (problem.rule, problem.file) == ("not-a-setup", "radio.toml")
    assert "craft, channels and waivers cannot be shared" in problem.message
    assert "accepts" in problem.help
    assert pointed(texts, problem.path, problem.file) == ("radio.toml", "[craft]")
    assert [pointed(texts, *other[::2]) for other in problem.related] == [  # type: ignore[arg-type]
        ("radio.toml", "channels"),
        ("radio.toml", "[[waivers]]"),
    ]
    assert (setup.channels, setup.waivers, setup.craft.name) == ({}, (), "wagtail")
    assert "hold" in setup.switches


def test_mistakes_of_a_shared_part_are_found_where_they_are() -> None:
    radio = 'format = 1\n[switches.hold]\nkind = "to-position"\nplase = "left"\n[swiches.x]\nkind = "selector"\n[knobs.Gain]\n'
    assert said(OWN, radio=radio) == [
        ("not-a-setup", "radio.toml", '"to-position"'),
        ("not-a-setup", "radio.toml", "plase"),
        ("not-a-setup", "radio.toml", "swiches"),
        ("not-a-setup", "radio.toml", "Gain"),
    ]
    assert said(OWN, radio="switches = 3\n") == [("not-a-setup", "radio.toml", "3")]
    _, setup, problems = read(OWN + '[conditions.x]\nwhen = "hold is on"\n', radio="switches = 3\n")
    assert (len(problems), isinstance(setup.conditions["x"].when, Unknown)) == (1, True)
    assert said(OWN + "[switches.x]\nkind = 1\n", radio="switches = 3\n") == [
        ("not-a-setup", NAME, "1"),
        ("not-a-setup", "radio.toml", "3"),
    ]


@pytest.mark.parametrize("version", ["2", "true", '"1"', "1.0"])
def test_a_shared_part_in_another_format_is_not_taken(version: str) -> None:
    own = OWN + '[conditions.x]\nwhen = "hold is on"\n'
    _, setup, problems = read(own, radio=f"format = {version}\n{RADIO}[craft]\nwombat = 1\n")
    assert [(p.path, p.file) for p in problems] == [(("format",), "radio.toml")]
    assert setup.switches == {}
    assert isinstance(setup.conditions["x"].when, Unknown)


def test_what_is_lost_of_a_shared_part_may_be_any_name() -> None:
    own = OWN + '[conditions.x]\nwhen = "hold is on"\n[conditions.y]\nwhen = "spare is on"\n'
    broken = '[@]\nkind = "two-position"\n'
    texts, setup, problems = read(own, radio=broken)
    assert [d.name for d in texts if d.problems] == ["radio.toml"]
    assert problems == ()
    assert isinstance(setup.conditions["x"].when, Unknown)
    assert isinstance(setup.conditions["y"].when, Unknown)
    # a line of a table that cannot be shared takes nothing away
    _, setup, problems = read(own, radio=RADIO + "[craft]\nname = \n[channels.motor]\nnumber = \n")
    assert [p.rule for p in problems] == ["unknown-name", "not-a-setup"]
    assert (setup.broken, setup.channels) == (frozenset(), {})


def test_a_broken_line_of_extends_is_no_reason_to_miss_names() -> None:
    _, setup, problems = read('format = 1\nextends = club.toml\n[conditions.x]\nwhen = "hold is on"\n', radio=RADIO)
    assert problems == ()
    assert isinstance(setup.conditions["x"].when, Unknown)


@pytest.mark.parametrize(
    ("written", "message"),
    [
        ("", "must be the path"),
        ("/etc/radio.toml", "relative"),
        ("C:/radio.toml", "relative"),
        ("https://example.org/radio.toml", "relative"),
        ("..\\radio.toml", "/ between"),
        ("radio\x00.toml", "not the path"),
        ("x" * 500 + ".toml", "not the path"),
        ("radio", "ends in .toml"),
        ("../.git/config.toml", "not hidden"),
        ("../missing.toml", "no text missing.toml"),
        ("../../radio.toml", "no text ../radio.toml"),
    ],
)
def test_paths_that_are_refused(written: str, message: str) -> None:
    import tomli_w

    own = tomli_w.dumps({"format": 1, "extends": written, "conditions": {"x": {"when": "hold is on"}}})
    texts, setup, (problem,) = read(own, radio=RADIO)
    assert (problem.rule, problem.path, problem.subject) == ("not-a-setup", ("extends",), "extends")
    assert message in problem.message
    assert problem.help
    assert pointed(texts, problem.path, problem.file)[0] == NAME
    assert isinstance(setup.conditions["x"].when, Unknown)
    assert problem.message.isprintable()


@pytest.mark.parametrize("written", ["3", "true", '["radio.toml"]', '{ file = "radio.toml" }'])
def test_another_type_is_one_finding(written: str) -> None:
    assert [rule for rule, *_ in said(f"format = 1\nextends = {written}\n", radio=RADIO)] == ["not-a-setup"]
    nested = said(OWN, radio=f"extends = {written}\n")
    assert [(rule, file) for rule, file, _ in nested] == [("not-a-setup", "radio.toml")]


def test_without_a_folder_shared_parts_cannot_be_read() -> None:
    _, _, (problem,) = loaded_setup(OWN, "x.toml")
    assert "without the folder" in problem.message


def test_loops_are_shown_in_the_file_that_closes_them() -> None:
    texts, _, (problem,) = read(
        OWN, radio='extends = "b.toml"\n', b='extends = "c.toml"\n', c='extends = "radio.toml"\n'
    )
    assert "radio.toml → b.toml → c.toml → radio.toml" in problem.message
    assert pointed(texts, problem.path, problem.file) == ("c.toml", '"radio.toml"')
    _, _, (problem,) = read('format = 1\nextends = "./wagtail.toml"\n')
    assert f"{NAME} → {NAME}" in problem.message
    texts, _, (problem,) = read(OWN, radio='extends = "craft/wagtail.toml"\n')
    assert f"{NAME} → radio.toml → {NAME}" in problem.message


def test_a_row_has_its_end() -> None:
    row = {f"r{n}": f'extends = "r{n + 1}.toml"\n[knobs.k{n}]\n' for n in range(20)}
    texts, setup, problems = read('format = 1\nextends = "../r0.toml"\n', **row)
    assert [p.message for p in problems] == ["more than 8 files extend each other in a row"]
    assert pointed(texts, problems[0].path, problems[0].file)[0] == "r7.toml"
    assert [n for n in setup.sticks if n[0] == "k"] == [f"k{n}" for n in reversed(range(8))]
    row["r7"] = "[knobs.last]\n"
    _, setup, problems = read('format = 1\nextends = "../r0.toml"\n', **row)
    assert (problems, "last" in setup.sticks) == ((), True)


def test_shared_parts_are_small_together() -> None:
    pad = f"# {'x' * 600_000}\n"
    texts, _, (problem,) = read(OWN, radio=pad + 'extends = "b.toml"\n', b=pad + RADIO)
    assert "1,000,000 bytes" in problem.message
    assert pointed(texts, problem.path, problem.file)[0] == "radio.toml"


def test_a_part_that_others_extend_is_no_setup() -> None:
    own = OWN + RADIO
    assert not loaded_setup(RADIO, "radio.toml", TextsByName({"radio.toml": RADIO}, "radio.toml"))[0].is_shared_file
    texts, _, problems = loaded_setup(RADIO, "radio.toml", TextsByName({"radio.toml": RADIO, NAME: OWN}, "radio.toml"))
    assert (texts.is_shared_file, problems) == (True, ())
    texts, _, problems = loaded_setup(
        own, NAME, TextsByName({NAME: own, "x.toml": f'extends = "{NAME}"\n[craft]\n'}, NAME)
    )
    assert texts.is_shared_file
    assert not read(OWN + "[craft]\n", radio=RADIO)[0].is_shared_file
    # names that the setups bring are not missed, and nothing else is forgiven
    radio = RADIO + '[modes.third]\nwhen = "elsewhere and throttle > 300"\n'
    _, _, problems = loaded_setup(radio, "radio.toml", TextsByName({"radio.toml": radio, NAME: OWN}, "radio.toml"))
    assert sorted(p.rule for p in problems) == ["not-a-setup", "value-out-of-range"]


@pytest.mark.slow
def test_whatever_is_in_a_shared_part_every_place_is_in_a_text() -> None:
    """Characters and lines lost, doubled and swapped, in either file: no mistake without its place."""
    rng = Random("shared")
    reference = (Path(__file__).parents[2] / "examples" / "plover.toml").read_text(encoding="utf-8")
    radio = (Path(__file__).parents[2] / "examples" / "club-radio.toml").read_text(encoding="utf-8")
    seen = set()
    for _ in range(600):
        own, shared = (spoilt(text, rng) if rng.random() < 0.7 else text for text in (reference, radio))
        texts, _, problems = loaded_setup(
            own, "w.toml", TextsByName({"w.toml": own, "club-radio.toml": shared}, "w.toml")
        )
        for problem in problems:
            for path, file in ((problem.path, problem.file), *((o.path, o.file) for o in problem.related)):
                document = texts.holder(path, file)
                start, end = document.span(path)
                assert 0 <= start <= end <= len(document.text)
                assert texts.order(document) < len(list(texts))
                seen.add((problem.rule, document.name))
            if problem.within is not None:
                texts.holder(problem.path, problem.file).string_offset(problem.path, problem.within[0])
    assert {("not-a-setup", "club-radio.toml"), ("not-a-setup", "w.toml"), ("unknown-name", "w.toml")} <= seen


def spoilt(text: str, rng: Random) -> str:
    for _ in range(rng.randint(1, 3)):
        at, to = rng.randrange(len(text)), rng.randrange(len(text))
        lines = text.split("\n")
        how = rng.randrange(5)
        if how == 0:
            text = text[:at] + text[at + rng.randint(1, 5) :]
        elif how == 1:
            text = text[:at] + rng.choice('[]{}"=.#,\n-x3é\x00') + text[at:]
        elif how == 2:
            text = text[: min(at, to)] + text[max(at, to) :]
        elif how == 3:
            rng.shuffle(lines)
            text = "\n".join(lines)
        else:
            lines[rng.randrange(len(lines))] = rng.choice(
                ["", "extends = 3", "[switches.hold]", "modes = 1", "[[sensors]]"]
            )
            text = "\n".join(lines)
    return text
