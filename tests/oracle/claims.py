"""Random claims about a setup: switches, sensors, conditions, modes, outputs and predicates."""

from __future__ import annotations

from fractions import Fraction

from .formula import Compare, Formula, leaves
from .meaning import World
from .parts import Limits
from .pick import Pick, combine
from .places import turning_places

PREDICATES = [
    "hold called",
    "hold called",
    "rescue called",
    "rescue called",
    "stop called",
    "motor runs",
    "rotor driven",
    "rotor driven",
    "flying",
    "flying",
    "levelled",
    "lifted",
    "sprung switches released",
    "sprung switches released",
    "start allowed",
]


def claim(pick: Pick, text: str) -> str:
    """A formula over a setup, as may stand in a claim."""
    world = World(text)
    if pick.chance(45):
        return combine(pick, lambda: leaf(pick, world), 4)
    parts = [leaf(pick, world) for _ in range(pick.integer(2, 5))]
    return " and ".join(f"not {part}" if pick.chance(25) else part for part in parts)


def leaf(pick: Pick, world: World) -> str:
    kinds = ["switch"] * 3 + ["predicate"] * 5 + ["output"] * 6
    kinds += ["condition"] * 6 if world.conditions else []
    kinds += ["mode"] * 2 if world.modes else []
    cuts = compared(world)
    kinds += ["compare"] * 2 if cuts else []
    kinds += ["lost"] if world.sensors else []
    kinds += ["follows"] if pick.chance(20) else []
    match str(pick.one(kinds)):
        case "switch":
            name = pick.one(list(world.switches))
            return f"{name} is {'not ' * pick.chance(20)}{pick.one(world.switches[name])}"
        case "predicate":
            return str(pick.one(PREDICATES))
        case "condition":
            return str(pick.one(list(world.conditions)))
        case "mode":
            return f"mode is {'not ' * pick.chance(20)}{pick.one(list(world.modes))}"
        case "compare":
            name, number = pick.one(cuts)
            return f"{name} {operator(pick)} {decimal(number)}"
        case "lost":
            return f"{pick.one(list(world.sensors))} is {'not ' * pick.chance(30)}lost"
        case "follows":
            channel = pick.one(list(world.channels))
            sticks = [t.source for line in world.channels[channel].lines.values() for t in line.terms or ()]
            return f"{channel} follows {pick.one([s for s in sticks if s in world.analogs] or ['throttle'])}"
        case _:
            channel = pick.one([*world.channels, *(o.channel for o in world.overrides)])
            return f"output {channel} {operator(pick)} {decimal(pick.one(telling(world, channel)))}"


def operator(pick: Pick) -> str:
    return pick.one(["<", "<=", ">", ">="])


def decimal(number: Fraction) -> str:
    """Up to six decimals, as a formula writes it."""
    text = f"{float(number):.6f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def compared(world: World) -> list[tuple[str, Fraction]]:
    """The thresholds of the file's conditions, modes, overrides and start."""
    formulas: list[Formula] = [f for node in world.order for f in world.formulas_of(node)]
    formulas += [o.when for o in world.overrides] + ([world.requires] if world.requires else [])
    found = [(x.name, x.number) for f in formulas for x in leaves(f) if isinstance(x, Compare)]
    return list(dict.fromkeys(found))


def telling(world: World, channel: str) -> list[Fraction]:
    """Numbers near which the channel's output can lie: its override values and what its lines give at their turns."""
    mine = [o.value for o in world.overrides if o.channel == channel]
    numbers = [x for v in mine for x in ((v.low, v.high) if isinstance(v, Limits) else (v,))]
    demands = {x for x in numbers if x is not None}
    for line in world.channels[channel].lines.values():
        if line.terms is None:
            continue
        terms = line.terms
        choice = {("curve", t.curve): "monotone" for t in terms if t.curve}
        state = world.settle(world.rest, world.memory_off)
        for term in terms:
            controls = dict(state.controls)
            places = turning_places(world, term, controls, choice) if term.kind == "analog" else [Fraction(0)]
            for place in places:
                if term.kind == "analog":
                    controls[term.source] = place
                demands.add(sum((world.term(t, controls, choice, {}) for t in terms), Fraction(0)))
    servo = world.channels[channel]
    outputs = {Fraction(decimal(world.servo(servo, demand))) for demand in demands}
    near = {x + d for x in outputs for d in (0, -10, Fraction(1, 2))} | {Fraction(0)}
    return sorted(x for x in near if -150 <= x <= 150)
