"""Readings of the examples: what a pilot would read off a transmitter that holds one of them, by the plain evaluator."""

from __future__ import annotations

from fractions import Fraction

from setuplint.formats.toml import toml_value
from setuplint.interview.readings import ReadSwitch, planned_places, read_readings
from setuplint.interview.readings_lines import stick_groups
from setuplint.interview.terms import decimal_text
from setuplint.plain.evaluate import evaluate
from setuplint.plain.settings import first
from setuplint.plain.state import OFF
from setuplint.setup import formulas as f
from setuplint.setup.model import Setup

Place = tuple[dict[str, str], dict[str, Fraction]]


def switches_of(setup: Setup) -> list[ReadSwitch]:
    """Each with what it is for, as its pilot knows it."""
    uses: dict[str, tuple[str, str]] = {}
    for use, formula in (("stop", setup.intent.stop), ("rescue", setup.intent.rescue), ("hold", setup.intent.hold)):
        for atom in f.atoms(formula) if formula is not None else ():
            if isinstance(atom, f.SwitchIs) and atom.position != setup.switches[atom.switch].positions[0]:
                uses[atom.switch] = (use, atom.position)
    for mode in setup.modes.values():
        for atom in f.atoms(mode.when) if mode.when is not None else ():
            if isinstance(atom, f.SwitchIs) and not any(use == "mode" for use, _ in uses.values()):
                uses.setdefault(atom.switch, ("mode", ""))
    found = []
    for switch in setup.switches.values():
        use, calls = uses.get(switch.name, ("other", ""))
        found.append(ReadSwitch(switch.name, switch.kind, switch.positions, use, calls or switch.positions[-1]))
    return found


def outputs_at(setup: Setup, place: Place) -> dict[str, Fraction]:
    """What every described channel gives there, switched on like that, the throttle at the bottom but where it is moved."""
    given: dict[str, Fraction | str] = {"throttle": Fraction(-100), **place[1], **place[0]}
    seen = evaluate(setup, first(setup, given, heard=True), OFF)
    return {channel: output for channel, output in seen.outputs.items() if output is not None}


def readings_file(setup: Setup, places: list[Place]) -> str:
    """As a pilot would write it."""
    lines = ["readings = 1", "[craft]", f"rotor = {toml_value(setup.craft.rotor)}"]
    for switch in switches_of(setup):
        lines += [
            f"[switches.{switch.name}]",
            f"kind = {toml_value(switch.kind)}",
            f"positions = {toml_value(switch.positions)}",
        ]
        lines += [f"for = {toml_value(switch.use)}", f"calls = {toml_value(switch.calls)}"]
    for channel in setup.channels.values():
        lines += [f"[channels.{channel.name}]", f"drives = {toml_value(channel.drives)}"]
        lines += [f"number = {channel.number}"] if channel.number is not None else []
    for place in places:
        reads = {name: decimal_text(output) for name, output in outputs_at(setup, place).items()}
        sticks = {name: decimal_text(at) for name, at in place[1].items()}
        lines += ["[[places]]", f"switches = {toml_value(place[0])}"]
        for key, table in (("sticks", sticks), ("reads", reads)):
            lines.append(f"{key} = {{ {', '.join(f'{name} = {value}' for name, value in table.items())} }}")
    return "\n".join(lines) + "\n"


def planned(setup: Setup) -> list[Place]:
    """The places that a card asks for, once it knows which channels follow two sticks."""
    switches = switches_of(setup)
    still = [place for place in planned_places(switches) if not place[0]]
    return planned_places(switches, stick_groups(read_readings(readings_file(setup, still), "still.toml")))
