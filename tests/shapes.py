"""Setups that grow in one direction: the reference with ever more of one thing. A shape makes a text of a size."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

REFERENCE = (Path(__file__).parent.parent / "examples" / "reference.toml").read_text(encoding="utf-8")
LARGEST = 1_000_000  # bytes of a file that is read

Shape = Callable[[int], str]


class Extending(str):
    """A setup's text, with the texts of the shared parts beside it by their names."""

    parts: dict[str, str]


def beside(text: str) -> dict[str, str]:
    return text.parts if isinstance(text, Extending) else {}


def bytes_of(text: str) -> int:
    """Of a shape's text with its parts; all of it is ASCII but the reference."""
    return len(text.encode()) + sum(map(len, beside(text).values()))


def with_reference(lines: Iterator[str], text: str = REFERENCE) -> str:
    return "\n".join([text, *lines]) + "\n"


def switches(count: int) -> Iterator[str]:
    for n in range(count):
        yield f'[switches.s{n}]\nkind = "two-position"'


def knobs(count: int) -> Iterator[str]:
    for n in range(count):
        yield f"[knobs.k{n}]"


def used(formula: str) -> str:
    """A condition that decides the motor, so that rules ask of it."""
    return f'[overrides.last]\nchannel = "motor"\nvalue = 40\nwhen = "{formula} and not hold is on"\npriority = 20'


def chain(size: int) -> str:
    """Conditions that each rest on the one before."""

    def lines() -> Iterator[str]:
        yield from switches(9)
        yield '[conditions.c0]\nwhen = "s0 is on"'
        for n in range(1, size):
            word = "or" if n % 2 else "and"
            yield f'[conditions.c{n}]\nwhen = "c{n - 1} {word} s{n % 9} is on"'
        yield used(f"c{size - 1}")

    return with_reference(lines())


def tree(size: int) -> str:
    """Conditions that each rest on two others."""

    def lines() -> Iterator[str]:
        yield from switches(9)
        for n in reversed(range(size)):
            word = "or" if n % 2 else "and"
            yield f'[conditions.c{n}]\nwhen = "{over(2 * n + 1)} {word} {over(2 * n + 2)}"'
        yield used("c0")

    def over(n: int) -> str:
        return f"c{n}" if n < size else f"s{n % 9} is on"

    return with_reference(lines())


def xor(size: int) -> str:
    """Conditions of which each is the exclusive or of the one before and a switch."""

    def lines() -> Iterator[str]:
        yield from switches(size)
        yield '[conditions.c0]\nwhen = "s0 is on"'
        for n in range(1, size):
            yield f'[conditions.c{n}]\nwhen = "(c{n - 1} and not s{n} is on) or (not c{n - 1} and s{n} is on)"'
        yield used(f"c{size - 1}")

    return with_reference(lines())


def shared(size: int) -> str:
    """Conditions that each name the two before: as a tree it would be exponential."""

    def lines() -> Iterator[str]:
        yield from switches(2)
        yield '[conditions.c0]\nwhen = "s0 is on"\n[conditions.c1]\nwhen = "s1 is on"'
        for n in range(2, size):
            yield f'[conditions.c{n}]\nwhen = "(c{n - 1} and not c{n - 2}) or (not c{n - 1} and c{n - 2})"'
        yield used(f"c{size - 1}")

    return with_reference(lines())


def overrides_of_one(size: int) -> str:
    """Overrides that compete for one channel."""
    texts = (_override(n, "motor", f"s{n % 9} is on and save is released", n) for n in range(size))
    return with_reference(iter([*switches(9), *texts]))


def overrides_alike(size: int) -> str:
    """Overrides of one channel and one priority."""
    texts = (_override(n, "motor", f"s{n % 9} is on and save is released", 0) for n in range(size))
    return with_reference(iter([*switches(9), *texts]))


def overrides_of_many(size: int) -> str:
    """Channels with four overrides each."""

    def lines() -> Iterator[str]:
        yield from switches(9)
        for n in range(size):
            if n % 4 == 0:
                yield _channel(n // 4)
            yield _override(n, f"x{n // 4}", f"s{n % 9} is on", n)

    return with_reference(lines())


def _override(n: int, channel: str, when: str, priority: int) -> str:
    value = (n * 37) % 80
    return f'[overrides.o{n}]\nchannel = "{channel}"\nvalue = {value}\nwhen = "{when}"\npriority = {60 + priority}'


def _channel(n: int, rest: str = 'from = "aileron"') -> str:
    return f'[channels.x{n}]\nnumber = {20 + n}\ndrives = "other"\n{rest}'


def latches(size: int) -> str:
    """Latches that each set the next."""

    def lines() -> Iterator[str]:
        yield from switches(9)
        for n in range(size):
            before = f"c{n - 1} and " if n else ""
            yield f'[conditions.c{n}]\nwhen = "{before}s{n % 9} is on"\nuntil = "s{(n + 4) % 9} is on"'
        yield used(f"c{size - 1}")

    return with_reference(lines())


def toggles(size: int) -> str:
    """A counter of toggles, each driven by the one before."""

    def lines() -> Iterator[str]:
        for n in range(size):
            when = f"c{n - 1}" if n else "save is pulled"
            yield f'[conditions.c{n}]\nwhen = "{when}"\ntoggles = true'
        yield used(f"c{size - 1}")

    return with_reference(lines())


def delays(size: int) -> str:
    """Conditions that each come late after the one before."""

    def lines() -> Iterator[str]:
        yield '[conditions.c0]\nwhen = "flight is normal"\nafter = 0.5'
        for n in range(1, size):
            when, key = f"{'' if n % 3 else 'not '}c{n - 1}", "stays" if n % 2 else "after"
            yield f'[conditions.c{n}]\nwhen = "{when}"\n{key} = {n % 7 + 1}'
        yield used(f"c{size - 1}")

    return with_reference(lines())


def modes(size: int) -> str:
    """Modes that are flown before those of the reference."""

    def lines() -> Iterator[str]:
        yield from switches(12)
        for n in range(size):
            when = " and ".join(f"s{k} is {'on' if n >> k & 1 else 'off'}" for k in range(12))
            yield f'[modes.m{n}]\nwhen = "{when}"'
            yield f'voice = "mode {n}"'

    head, rest = REFERENCE.split("[modes.normal]", 1)
    return with_reference(iter(["[modes.normal]" + rest]), with_reference(lines(), head))


def channels(size: int) -> str:
    """Channels with a curve and a switched rate each."""
    rest = 'from = "elevator"\ncurve = "pitch-calm"\nrate = { switch = "rates", at = { soft = 60, full = 90 } }'
    return with_reference(_channel(n, rest) for n in range(size))


def points(size: int) -> str:
    """One curve of very many points, smoothed."""
    spots = ", ".join(
        f"[{-100 + 200 * n / (size + 1):.4f}, {-100 + 200 * n / (size + 1) + n % 2 / 50:.4f}]" for n in range(1, size)
    )
    new = f'points = [{spots}]\nsmoothing = "natural"'
    old = 'points = [[-100, -100], [-50, -14], [0, 16], [50, 46], [100, 100]]\nsmoothing = "monotone"'
    assert old in REFERENCE
    return REFERENCE.replace(old, new)


def sums_of(sticks: int) -> Shape:
    """Channels of so many sticks or knobs each, one of them the motor's, and conditions that cut them."""

    def shape(size: int) -> str:
        def lines() -> Iterator[str]:
            names = ["throttle", "wheel", "slider", "dial"][:sticks]
            yield from (f"[knobs.{name}]" for name in names[1:])
            for n in range(size):
                mix = ", ".join(
                    f'{{ from = "{name}", rate = {20 + (n + 7 * k) % 50} }}' for k, name in enumerate(names[1:])
                )
                yield _channel(n, f'from = "throttle"\ncurve = "hover-soft"\nmix = [{mix}]')
                yield f'[[claims]]\nnever = "output x{n} > {90 + n % 40} and throttle < {n % 60} and wheel < {n % 70}"'
                yield f'because = "claim {n}"'
            yield _override(0, "motor", "wheel > 50 and throttle > 20 and not hold is on", -30)

        motor = 'from = "throttle"              # a stick, knob or switch; or a fixed number\ncurve = "hover-soft"'
        assert motor in REFERENCE
        mixed = ", ".join(f'{{ from = "{name}", rate = 20 }}' for name in ("wheel", "slider", "dial")[: sticks - 1])
        return with_reference(lines(), REFERENCE.replace(motor, motor + f"\nmix = [{mixed}]"))

    return shape


def alarms(size: int) -> str:
    return with_reference(
        f'[alarms.a{n}]\nwhen = "pack < {16 + n % 97 / 20}"\nvoice = "alarm {n}"\nrepeat = {n % 9}' for n in range(size)
    )


def claims(size: int) -> str:
    """Claims about outputs, each with numbers of its own."""
    return with_reference(
        f'[[claims]]\nnever = "output motor > {n % 90 + n % 89 / 100:.2f} and throttle < {-n % 91} and hold is on"\n'
        f'because = "claim {n}"'
        for n in range(size)
    )


def formula(size: int) -> str:
    """One formula of very many words."""
    words = " or ".join(f"(s{n % 9} is on and throttle < {n % 199 - 99})" for n in range(size))
    return with_reference(iter([*switches(9), f'[conditions.c0]\nwhen = "{words}"', used("c0")]))


def nested(size: int) -> str:
    """One formula of very many brackets."""
    when = "not (" * size + "save is pulled" + ")" * size
    return with_reference(iter([f'[conditions.c0]\nwhen = "{when}"', used("c0")]))


def packs(size: int) -> str:
    return with_reference(f"[packs.p{n}]\ncapacity-mah = {1000 + n}" for n in range(size))


def sensors(size: int) -> str:
    return with_reference(
        f'[sensors.n{n}]\nreads = "temperature"\n[alarms.a{n}]\nwhen = "n{n} > {n % 90} or n{n} is lost"\ntone = true'
        for n in range(size)
    )


def timers(size: int) -> str:
    return with_reference(f'[timers.t{n}]\nseconds = {60 + n}\nruns = "throttle > {n % 99}"' for n in range(size))


def many_switches(size: int) -> str:
    """Switches that nothing but one override each names."""
    return with_reference(iter([*switches(size), *(_override(n, "roll", f"s{n} is on", n) for n in range(size))]))


def positions(size: int) -> str:
    """One selector of very many positions, each with an output of its own."""
    names = [f"p{n}" for n in range(size)]
    listed = ", ".join(f'"{name}"' for name in names)
    values = ", ".join(f"{name} = {n % 200 - 100}" for n, name in enumerate(names))
    return with_reference(
        iter([
            f'[switches.dial]\nkind = "selector"\npositions = [{listed}]',
            _channel(0, f'from = "dial"\nvalues = {{ {values} }}'),
        ])
    )  # fmt: skip


def mistakes(size: int) -> str:
    """Keys that nobody knows."""
    return with_reference(f"[channels.x{n}]\nnumber = 1\ndrivs = 3\ncurve = 'nowhere'" for n in range(size))


def broken(size: int) -> str:
    """Lines that are not TOML."""
    return with_reference(f"= {n} [" for n in range(size))


def waivers(size: int) -> str:
    return with_reference(
        f'[[waivers]]\nrule = "mode-jump"\non = ["idle-up"]\nreason = "reason {n}"' for n in range(size)
    )


def extends(files: int) -> Shape:
    """Shared switches, sensors and modes, in so many parts that extend each other in a row."""

    def shape(size: int) -> str:
        parts = {}
        for file in range(files):
            mine = (n for n in range(size) if n % files == file)
            after = f'extends = "part-{file + 1}.toml"\n' if file + 1 < files else ""
            parts[f"part-{file}.toml"] = "format = 1\n" + after + "".join(map(_shared_kinds, mine))
        warned = (f'[alarms.a{n}]\nwhen = "t{n} > 80 and s{n} is on"\ntone = true' for n in range(0, size, 4))
        text = Extending(
            with_reference(warned, REFERENCE.replace("format = 1", 'format = 1\nextends = "part-0.toml"', 1))
        )
        text.parts = parts
        return text

    return shape


def _shared_kinds(n: int) -> str:
    switch = f'[switches.s{n}]\nkind = "two-position"\n'
    sensor = f'[sensors.t{n}]\nreads = "temperature"\n'
    return switch + sensor + f'[modes.m{n}]\nwhen = "s{n} is on and s{n - n % 8} is off"\nvoice = "mode {n}"\n'


SHAPES: dict[str, Shape] = {
    "conditions, chain": chain,
    "conditions, tree": tree,
    "conditions, xor": xor,
    "conditions, shared": shared,
    "overrides, one channel": overrides_of_one,
    "overrides, one priority": overrides_alike,
    "overrides, many channels": overrides_of_many,
    "latches": latches,
    "toggles": toggles,
    "delays": delays,
    "modes": modes,
    "channels": channels,
    "points": points,
    "sums of 2": sums_of(2),
    "sums of 3": sums_of(3),
    "sums of 4": sums_of(4),
    "alarms": alarms,
    "claims": claims,
    "words of a formula": formula,
    "brackets": nested,
    "packs": packs,
    "sensors": sensors,
    "timers": timers,
    "switches": many_switches,
    "positions": positions,
    "mistakes": mistakes,
    "broken lines": broken,
    "waivers": waivers,
    "extends, one part": extends(1),
    "extends, eight in a row": extends(8),
}


def largest(shape: Shape) -> int:
    """The greatest size of a shape whose text is still read."""
    low, high = 1, 2
    while bytes_of(shape(high)) <= LARGEST:
        low, high = high, high * 2
    while high - low > 1 + low // 50:
        middle = (low + high) // 2
        low, high = (middle, high) if bytes_of(shape(middle)) <= LARGEST else (low, middle)
    return low
