"""Controls that go the wrong way, go nowhere, or answer to another's stick (RULES.md, "Controls and channels")."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from setuplint.book.asking import Asking, percent, plain
from setuplint.budget import OutOfBudget
from setuplint.checks.channels import key_path
from setuplint.checks.curve_shapes import FULL
from setuplint.checks.travels import OWN, controls, in_flight, own_travels
from setuplint.curves.flown import Flown
from setuplint.findings import Edit, Finding
from setuplint.plain.evaluate import Evaluation
from setuplint.plain.state import State
from setuplint.setup import formulas as f
from setuplint.setup.model import BySwitch, Channel, Path, Term
from setuplint.setup.smoothings import possible

Spot = tuple[State, Evaluation]  # a state, and what the setup does there


# -- the wrong way


def control_reversed(ask: Asking) -> Iterator[Finding]:
    """A control goes one way with its own stick in one state, and the other way in another."""
    for channel in controls(ask):
        try:
            signs = [travel.direction for travel in own_travels(ask, channel) for _ in travel.case.guards]
        except OutOfBudget as end:
            ask.undecided.append((channel.name, str(end)))
            continue
        if len(set(signs)) < 2 and is_known(channel):
            continue
        odd = odd_direction(signs)
        regular, slipped = (in_flight(ask, direction(ask, channel, sign)) for sign in (-odd, odd))
        found = [ask.possible(way, channel.name) for way in (regular, slipped)]
        if all(found):
            yield reversed_finding(ask, channel, regular, slipped, sum(signs) == 0)


def direction(ask: Asking, channel: Channel, sign: int) -> f.Formula:
    return f.Rises(channel.name, OWN[channel.drives], sign * ask.limit("alike", "control-reversed"))


def odd_direction(signs: list[int]) -> int:
    """The direction that fewer positions of switches have, in the modes that are flown; in a tie not the first's."""
    total = sum(signs)
    return -1 if total > 0 or (total == 0 and signs[:1] == [1]) else 1


def is_known(channel: Channel) -> bool:
    return all(line.terms is not None for line in (channel.own, *channel.lines.values()))


def reversed_finding(ask: Asking, channel: Channel, regular: f.Formula, slipped: f.Formula, tie: bool) -> Finding:
    """With the movement that turns it round, where there is one; in a tie either may be the slip, and no edit is offered."""
    stick = OWN[channel.drives]
    answer = ask.decider.find_movement(regular, slipped)
    case = answer.case if answer.found else ask.find(slipped, channel.name)
    assert case is not None
    other = case if answer.found else ask.find(regular, channel.name)
    assert other is not None
    here: Spot = case.state, case.evaluation
    if answer.found:
        assert case.after is not None
        assert case.after_evaluation is not None
        here = case.after, case.after_evaluation
    there: Spot = other.state, other.evaluation
    path, edit = slipped_key(ask, channel, here, there)
    return ask.finding(
        channel.name,
        f"{channel.name} goes the other way {place_words(channel, here)}: with the {stick} stick from one end to the other "
        f"it goes {ends_words(ask, channel, here)} there, and {ends_words(ask, channel, there)} {place_words(channel, there)}",
        path,
        case,
        outputs={},
        edit=None if tie else edit,
    )


def flown_there(ask: Asking, channel: Channel, spot: Spot) -> Flown:
    """The channel as its own stick flies it in a state in which its own line decides."""
    state, evaluation = spot
    for case in ask.decider.lines(channel, evaluation.mode) or ():
        if any(all(stands_so(ask, state, *guard) for guard in guards) for guards in case.guards):
            shapes = dict(case.shapes)
            own = shapes.pop(OWN[channel.drives])
            others = sum((shape.value(state.sticks[name]) for name, shape in shapes.items()), case.constant)
            return Flown(channel, others, own)
    raise AssertionError("the cases of a line are exhaustive")


def stands_so(ask: Asking, state: State, kind: str, name: str, choice: str) -> bool:
    if kind == "switch":
        return state.positions[name] == choice
    return state.smoothing.get(name, possible(ask.setup.curves[name].smoothing)[0]) == choice


def ends_words(ask: Asking, channel: Channel, spot: Spot) -> str:
    flown = flown_there(ask, channel, spot)
    low, high = (percent(round(flown.output(x), 1)) for x in (-FULL, FULL))
    return f"from {low} to {high}"


def place_words(channel: Channel, spot: Spot) -> str:
    """Where the line is flown: its mode, and the switches that its rates and expos hang on."""
    state, evaluation = spot
    terms = channel.line(evaluation.mode).terms or ()
    hung = [by.switch for t in terms if t.kind == "stick" for by in (t.rate, t.expo) if isinstance(by, BySwitch)]
    words = [f"in mode {evaluation.mode}"] if evaluation.mode else []
    return " ".join([*words, *(f"with {s} {state.positions[s]}" for s in dict.fromkeys(hung))]) or "there"


def own_term(channel: Channel, mode: str | None) -> tuple[int, Term]:
    terms = channel.line(mode).terms or ()
    return next((n, t) for n, t in enumerate(terms) if t.kind == "stick" and t.source == OWN[channel.drives])


def slipped_key(ask: Asking, channel: Channel, here: Spot, there: Spot) -> tuple[Path, Edit | None]:
    """The key that turns it round: the rate, where its sign is another; else the curve."""
    mode = here[1].mode
    (place, odd), (_, usual) = (own_term(channel, spot[1].mode) for spot in (here, there))
    rates = [amount_there(term.rate, spot[0]) for term, spot in ((odd, here), (usual, there))]
    flown = ask.setup.modes[mode] if mode else None
    if rates[0] * rates[1] >= 0:
        return key_path(ask, channel, flown, place, "curve" if odd.curve or usual.curve else "from"), None
    path = key_path(ask, channel, flown, place, "rate")
    if isinstance(odd.rate, BySwitch):
        path = (*path, "at", here[0].positions[odd.rate.switch])
    return path, Edit(path, f"{plain(-rates[0]):g}") if path in ask.setup.declared else None


def amount_there(amount: Fraction | BySwitch, state: State) -> Fraction:
    return amount.at[state.positions[amount.switch]] if isinstance(amount, BySwitch) else amount
