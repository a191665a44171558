"""Files as a stranger might send them, each of one thing that no setup has so much of. A shape makes a text of a size."""

from __future__ import annotations

from tests.shapes import REFERENCE, Extending, Shape, with_reference


def alarms_of_two(size: int) -> str:
    """Alarms about the pack and the link by turns."""
    return with_reference(
        f'[alarms.a{n}]\nwhen = "{("pack < 21.", "link < 5.")[n % 2]}{n % 10}{n % 97}"\ntone = true\nrepeat = {n % 9}'
        for n in range(size)
    )


def unknown_keys(size: int) -> str:
    return with_reference(iter(["[knobs.slider]", *(f"k{n}=1" for n in range(size))]))


def unknown_tables(size: int) -> str:
    return with_reference(f"[t{n}]" for n in range(size))


def one_line(size: int) -> str:
    """Everything wrong stands in one line."""
    return with_reference(iter([f"[knobs]\nslider = {{ {', '.join(f'k{n} = 1' for n in range(size))} }}"]))


def long_text(size: int) -> str:
    return with_reference(iter([f'[alarms.long]\nwhen = "pack < 22"\nvoice = "{"a" * size}"']))


def long_comment(size: int) -> str:
    return with_reference(iter(["#" * size]))


def wide_text(size: int) -> str:
    """Letters that take two columns, and marks that take none."""
    voice = "漢e\u0301" * size
    return with_reference(iter([f'[alarms.wide]\nwhen = "pack < 22"\nvoice = "{voice}"\nvoce = 1']))


def long_names(size: int) -> str:
    """Ten switches whose names are very long, each named by twenty formulas."""
    names = [f"s{n}-{'x' * (size // 210)}" for n in range(10)]
    lines = [f'[switches.{name}]\nkind = "two-position"' for name in names]
    lines += [
        f'[alarms.a{n}]\nwhen = "{name} is on or pack < {n}"' for n, name in enumerate(name for name in names * 20)
    ]
    return with_reference(iter(lines))


def nested_arrays(size: int) -> str:
    return with_reference(iter([f"[curves.deep]\npoints = {'[' * size}{']' * size}"]))


def many_nested_arrays(size: int) -> str:
    """Arrays inside each other, each a little less than is allowed."""
    one = "[" * 90 + "]" * 90
    return with_reference(iter([f"[curves.deep]\npoints = [{', '.join([one] * size)}]"]))


def nested_tables(size: int) -> str:
    return with_reference(iter([f"[knobs]\nslider = {'{ a = ' * size}1{' }' * size}"]))


def dotted(size: int) -> str:
    """One key of very many steps."""
    return with_reference(iter(["[knobs]", ".".join(["a"] * size) + " = 1"]))


def many_dotted(size: int) -> str:
    """Keys of ninety steps, each in a table of its own."""
    return with_reference(iter(["[knobs]", *(f"k{n}.{'.'.join(['a'] * 90)} = 1" for n in range(size))]))


def one_table_dotted(size: int) -> str:
    """Keys of ninety steps, all in one table."""
    return with_reference(iter(["[knobs]", *(f"{'.'.join(['a'] * 90)}.k{n} = 1" for n in range(size))]))


def deep_headers(size: int) -> str:
    return with_reference(f"[knobs.{'.'.join(['a'] * 90)}.k{n}]" for n in range(size))


def parentheses(size: int) -> str:
    return with_reference(iter([f'[conditions.c]\nwhen = "{"(" * size}hold is on{")" * size}"']))


def broken_formulas(size: int) -> str:
    return with_reference(f'[conditions.c{n}]\nwhen = "hold is om or savee is pulled"' for n in range(size))


def out_of_range(size: int) -> str:
    """Conditions about what no sensor reads."""
    return with_reference(f'[conditions.c{n}]\nwhen = "pack < 999"' for n in range(size))


def silent_alarms(size: int) -> str:
    """Alarms that nobody hears, and that would come too late."""
    return with_reference(f'[alarms.a{n}]\nwhen = "pack < 12.{n % 1000}"' for n in range(size))


def alarms_out_of_range(size: int) -> str:
    return with_reference(f'[alarms.a{n}]\nwhen = "pack > 999"\ntone = true' for n in range(size))


def long_formulas(size: int) -> str:
    """Formulas as long as they may be, each with a hundred and fifty numbers of its own."""
    return with_reference(
        f'[conditions.c{n}]\nwhen = "'
        + " or ".join(f"(pack < {5 + (n * 110 + k) % 2700 / 100} and hold is on)" for k in range(110))
        + '"'
        for n in range(size)
    )


def claims_alike(size: int) -> str:
    return with_reference('[[claims]]\nnever = "hold is on"' for _ in range(size))


def claims_of_moments(size: int) -> str:
    """Claims that late conditions bear on."""
    return with_reference(f'[[claims]]\nnever = "pack-low and throttle > {n % 100}.{n}"' for n in range(size))


def waivers_alike(size: int) -> str:
    return with_reference('[[waivers]]\nrule = "mode-jump"\nreason = "x"' for _ in range(size))


def waivers_of_nothing(size: int) -> str:
    return with_reference(f'[[waivers]]\nrule = "mode-junp{n}"\nreason = ""\nuntil = 2027-02-30' for n in range(size))


def near_names(size: int) -> str:
    """Names one edit apart, and as many that are none of them."""
    return with_reference(
        f'[curves.hover-sof{n}]\npoints = [[-100, 0], [100, 0]]\n[channels.x{n}]\nfrom = "throttle"\ncurve = "hover-soff{n}"'
        for n in range(size)
    )


def curve_points(size: int) -> str:
    """One curve of very many points, which are neither few nor rising nor numbers."""
    return with_reference(iter([f"[curves.long]\npoints = [{', '.join(f'[{n % 7}, true]' for n in range(size))}]"]))


def curves(size: int) -> str:
    """Smoothed curves of 33 points that channels follow."""
    spots = ", ".join(f"[{-96 + 6 * n}, {(n * 37) % 100}]" for n in range(33))
    return with_reference(
        f'[curves.y{n}]\npoints = [{spots}]\nsmoothing = "unknown"\n[channels.x{n}]\nfrom = "throttle"\ncurve = "y{n}"'
        for n in range(size)
    )


def lines_of_modes(size: int) -> str:
    """Channels that differ in every one of a hundred modes."""
    head, rest = REFERENCE.split("[modes.normal]", 1)
    modes = "".join(f'[modes.m{n}]\nwhen = "throttle > {n - 50} and save is pulled"\n' for n in range(100))
    other = ", ".join(f"m{n} = {{ from = {n} }}" for n in range(100))
    return with_reference(
        (f"[channels.x{n}]\nfrom = 3\nin = {{ {other} }}" for n in range(size)), head + modes + "[modes.normal]" + rest
    )


def mixes(size: int) -> str:
    """Channels with eight terms each."""
    terms = ", ".join('{ from = "flight", values = { normal = 3, idle-up-1 = 4, idle-up-2 = 5 } }' for _ in range(8))
    return with_reference(f'[channels.x{n}]\nfrom = "throttle"\nmix = [{terms}]' for n in range(size))


def long_numbers(size: int) -> str:
    one = "1" * (size // 4)
    return with_reference(
        iter([f'[curves.y]\npoints = [[{one}, 0.{one}], [1e{one}, 100]]\n[alarms.n]\nwhen = "pack < {one}"'])
    )


def large_exponents(size: int) -> str:
    return with_reference(f"[overrides.o{n}]\nvalue = 1e-99999999\npriority = 9e{n}999999" for n in range(size))


def dates(size: int) -> str:
    return with_reference(f"[channels.x{n}]\nfrom = 2027-02-28T23:59:60.{'9' * 40}-23:59" for n in range(size))


def surrogates(size: int) -> str:
    escapes = r"\uD800\U0010FFFF\u0000\x\U00110000\e" * 10
    return with_reference(f'[alarms.a{n}]\nvoice = "{escapes}"' for n in range(size))


def escapes(size: int) -> str:
    r"""A text of which every letter is written as \u0061."""
    return with_reference(
        iter(["[alarms.a]", 'voice = "' + r"\u0061" * size + '"', 'when = "' + r"\u0061" * size + '"'])
    )


def quotes(size: int) -> str:
    return with_reference(f'a{n} = "' for n in range(size))


def one_of_each(size: int) -> str:
    """The same table over and over."""
    return with_reference('[switches.hold]\nkind = "momentary"' for _ in range(size))


def empty_lines(size: int) -> str:
    return with_reference("" for _ in range(size))


def shared_parts(size: int) -> str:
    """Parts that extend each other in a row."""
    text = Extending(REFERENCE.replace("format = 1", 'format = 1\nextends = "p0.toml"', 1))
    text.parts = {f"p{n}.toml": f'format = 1\nextends = "p{n + 1}.toml"\n[knobs.k{n}]\n' for n in range(size)}
    return text


def failsafe(size: int) -> str:
    """What the receiver does on channels that there are not."""
    last = "attitude = 100\n\n[timers"
    assert last in REFERENCE
    keys = "".join(f"x{n} = {n % 90}\n" for n in range(size))
    return REFERENCE.replace(last, f"attitude = 100\n{keys}[timers")


STRANGE: dict[str, Shape] = {
    "alarms of two sensors": alarms_of_two,
    "unknown keys": unknown_keys,
    "unknown tables": unknown_tables,
    "one line": one_line,
    "long text": long_text,
    "long comment": long_comment,
    "wide text": wide_text,
    "long names": long_names,
    "nested arrays": nested_arrays,
    "many nested arrays": many_nested_arrays,
    "nested tables": nested_tables,
    "dotted key": dotted,
    "dotted keys": many_dotted,
    "dotted keys, one table": one_table_dotted,
    "deep headers": deep_headers,
    "parentheses": parentheses,
    "formulas with mistakes": broken_formulas,
    "conditions out of range": out_of_range,
    "alarms out of range": alarms_out_of_range,
    "silent alarms": silent_alarms,
    "long formulas": long_formulas,
    "claims alike": claims_alike,
    "claims of moments": claims_of_moments,
    "waivers alike": waivers_alike,
    "waivers of nothing": waivers_of_nothing,
    "near names": near_names,
    "points that are none": curve_points,
    "curves": curves,
    "lines of modes": lines_of_modes,
    "mixes": mixes,
    "long numbers": long_numbers,
    "large exponents": large_exponents,
    "dates": dates,
    "surrogates": surrogates,
    "escapes": escapes,
    "quotes": quotes,
    "tables twice": one_of_each,
    "empty lines": empty_lines,
    "shared parts": shared_parts,
    "failsafe": failsafe,
}
