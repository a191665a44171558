"""The channels of a report: who can take which, and what each puts out in every mode."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from setuplint.budget import OutOfBudget, Spent
from setuplint.engine.answers import IMPOSSIBLE, NOT_DECIDED
from setuplint.engine.decider import Decider
from setuplint.engine.ranges import bounds
from setuplint.formats.document import Grid, Phrase, Words
from setuplint.formats.numbers import decimal, of_hundred, percent, signed
from setuplint.pages.charts import svg_element
from setuplint.pages.document_html import document_html
from setuplint.pages.html import scrollable, tag, text
from setuplint.pages.override_map import NUMBERED, OverrideMap, OverrideRank, override_maps, override_ranks
from setuplint.setup import formulas as f
from setuplint.setup.cone import channel_overrides
from setuplint.setup.formula_text import formula_text
from setuplint.setup.model import Channel, Override, Setup
from setuplint.setup.packs import other_counts

COLUMNS = 6  # of a table that fits on a page
EFFORT = 700  # that a table may cost, about 50 a second: the largest set-ups stay within seconds
LONGEST = 300  # characters of a formula in a cell

# -- overrides


def overrides_section(setup: Setup) -> str:
    """The drawing, and the same as a table, the highest override of each channel first."""
    if not setup.overrides:
        return ""
    own = channel_overrides(setup)
    rows = [
        [
            channel.name,
            each.name,
            _value_words(channel, each),
            "not known" if each.priority is None else decimal(each.priority),
            _when_words(each),
            _beaten_words(rank),
        ]
        for channel in setup.channels.values()
        for rank in override_ranks(own[channel.name])
        for each in (rank.override,)
    ]
    heads = ("Channel", "Override", "Value", "Priority", "When", "Beats")
    maps = override_maps(setup)
    drawn = "".join(map(_map_figure, maps)) + tag("p", text(NUMBERED), class_="soft")
    if not maps:
        drawn = tag("p", "There are too many overrides for a drawing: the table has them all.", class_="soft")
    return drawn + document_html([Grid(heads, rows, "Overrides of each channel, the highest first")])


def _map_figure(drawing: OverrideMap) -> str:
    drawn = svg_element(
        drawing.inside,
        drawing.title,
        drawing.wide,
        drawing.tall,
        width=f"{drawing.wide:.0f}",
        class_="deep" if drawing.deep else None,
    )
    inner = scrollable(drawn, drawing.title)
    return tag("figure", inner + tag("figcaption", tag("strong", text(drawing.title))), class_="map")


def _beaten_words(rank: OverrideRank) -> str:
    """From whom it takes the channel."""
    ties = f"; ties with {', '.join(rank.equal)}" if rank.equal else ""
    return ", ".join([*rank.lower, "the channel's own line"]) + ties


def _value_words(channel: Channel, override: Override) -> str:
    return override.words(lambda x: percent(x) + (f" ({of_hundred(x)})" if channel.drives == "motor" else ""))


def _when_words(override: Override) -> str:
    words = formula_text(override.when) or "not known"
    return words if len(words) <= LONGEST else f"{words[:LONGEST]} …"


# -- outputs


def outputs_section(setup: Setup, spent: Spent | None = None) -> str:
    """The least and the greatest output of every channel in each mode, with hold and rescue called, and at a lost link."""
    if not setup.channels:
        return ""
    try:
        decider = Decider(setup, spent)
    except OutOfBudget as end:
        return tag("p", text(f"Not decided: {end}."), class_="soft")
    intent = setup.intent
    able = _affordable_channels(
        setup, (len(setup.modes) or 1) + (intent.hold is not None) + (intent.rescue is not None)
    )
    columns = list(_output_columns(decider)) if able else []  # of thousands of modes none is asked about for nothing
    heads = [head for head, _ in columns]
    cells = {c.name: [_range_words(decider, c, given) for _, given in columns] for c in able}
    if len(heads) > COLUMNS - 1:  # the same columns in tables that fit, hold and rescue and failsafe in the last
        shares = [range(n, min(n + COLUMNS, len(heads))) for n in range(0, len(heads), COLUMNS)]
    else:
        shares = [range(len(heads))]
    note = "Least and greatest over every state that can be reached, exact; in percent of normal travel."
    packs = ", ".join(other_counts(setup, setup))
    if packs:
        note += f" With the battery, of {setup.battery.cells} cells: with {packs} some may be otherwise."
    left = [c.name for c in setup.channels.values() if c.name not in cells]
    if left:
        note += f" Left out, to keep this page quick: {', '.join(left)}. Above, any of their states can be tried."
    tables = [_output_grid(able, setup, heads, cells, share) for share in shares] if able else []
    return tag("p", text(note), class_="soft") + "\n".join(document_html([table]) for table in tables)


def _affordable_channels(setup: Setup, columns: int) -> list[Channel]:
    """The channels whose outputs can be worked out in seconds: the motor and the collective first, then as in the file."""
    lifting = setup.driving("motor", "collective")
    spent = Fraction(0)
    able: set[str] = set()
    for channel in dict.fromkeys([c.name for c in lifting] + list(setup.channels)):
        cost = columns * _cell_cost(setup, setup.channels[channel])
        if spent + cost <= EFFORT:
            spent += cost
            able.add(channel)
    return [channel for channel in setup.channels.values() if channel.name in able]


def _cell_cost(setup: Setup, channel: Channel) -> Fraction:
    """The effort of one cell, as measured: more where several sticks are added, and with each override."""
    added = any(sum(term.kind == "stick" for term in line.terms or ()) > 1 for line in channel.every_line)
    return (1 + Fraction(len(setup.overrides), 50)) * (10 if added else 1)


def _output_grid(
    channels: Sequence[Channel], setup: Setup, heads: Sequence[str], cells: Mapping[str, list[Words]], share: range
) -> Grid:
    """A share of the columns; the last share has failsafe too."""
    last = share.stop == len(heads)
    rows = []
    for channel in channels:
        number = "" if channel.number is None else f" ({channel.number})"
        row: list[Words] = [f"{channel.name}{number}", *(cells[channel.name][n] for n in share)]
        rows.append([*row, _failsafe_words(setup, channel)] if last else row)
    shown = [heads[n] for n in share]
    caption = f"Outputs: {', '.join(shown)}" if len(heads) > len(share) else "Outputs by mode"
    return Grid(["Channel (number)", *shown, *(["failsafe"] if last else [])], rows, caption)


def _output_columns(decider: Decider) -> Iterator[tuple[str, f.Formula]]:
    """The condition of each column. A mode is shown with nothing called, unless it is flown only with hold or rescue."""
    setup = decider.setup
    free = [f.Not(f.Predicate(f"{word} called")) for word in ("hold", "rescue")]
    for mode in setup.modes:
        flown = f.both(f.ModeIs(mode), *free)
        called = decider.find(flown).verdict == IMPOSSIBLE
        yield (f"{mode} (with hold or rescue)", f.ModeIs(mode)) if called else (mode, flown)
    if not setup.modes:
        yield "nothing called", f.both(*free)
    if setup.intent.hold is not None:
        yield "hold called", f.Predicate("hold called")
    if setup.intent.rescue is not None:
        yield "rescue called, no hold", f.both(f.Predicate("rescue called"), free[0])


def _range_words(decider: Decider, channel: Channel, given: f.Formula) -> Words:
    if not channel.described and not decider.setup.acting_on(channel.name):
        return "not described"
    verdict, least, greatest = bounds(decider, channel.name, given)
    if least is None or greatest is None:
        return {IMPOSSIBLE: "never", NOT_DECIDED: "not decided"}.get(verdict, "not known")
    if least != greatest:
        return [_unbroken(signed(least)), " to ", _unbroken(signed(greatest))]
    of_motor: list[str | Phrase] = [" ", _unbroken(f"({of_hundred(least)})")] if channel.drives == "motor" else []
    return [_unbroken(signed(least)), *of_motor]


def _unbroken(words: str) -> Phrase:
    """Words that are not broken at a hyphen or a space."""
    return Phrase(words, "whole")


def _failsafe_words(setup: Setup, channel: Channel) -> str:
    entry = (setup.failsafe or {}).get(channel.name)
    return "not given" if entry is None else entry if isinstance(entry, str) else signed(entry)
