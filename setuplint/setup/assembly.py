"""From the values of a file to a `Setup`, with every problem at its place, and what is broken standing as unknown."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from typing import Any, NamedTuple, TypeVar

from setuplint.setup import declarations
from setuplint.setup.channels import World, build_channel
from setuplint.setup.dependencies import MODE, dependency_order, names_in, unsettled_by
from setuplint.setup.fields import Fields
from setuplint.setup.format_check import core_schema, note_format_errors
from setuplint.setup.formula_parser import Group, Written, parsed_formula
from setuplint.setup.formulas import RESERVED, Unknown
from setuplint.setup.model import Channel, Condition, Line, Mode, Override, Path, Setup, Stick
from setuplint.setup.names import STICK_RANGE, Names, sensor_range
from setuplint.setup.notes import Notes
from setuplint.setup.problems import RelatedPlace, SetupProblem, dotted, word_list
from setuplint.setup.texts import MAY_BE_SHARED, Texts
from setuplint.setup.unreadable import NAMED, note_what_the_text_lost

STICKS = ("throttle", "aileron", "elevator", "rudder")
ONE_SPACE = ("sticks", "knobs", "switches", "sensors", "conditions")
MOST_RELATED = 20  # other places that a finding shows
LONGEST_LOOP = 10  # names of a loop that a message shows
MOST_LINES = 100_000  # channels times modes
SAID_DEEP = 6  # how deep `Setup.declared` goes

T = TypeVar("T")


class Built(NamedTuple):
    setup: Setup
    problems: tuple[SetupProblem, ...]  # in the order of the file


def built_setup(texts: Texts) -> Built:
    """The set-up of a file, as far as it can be read, and everything that is wrong with it as a set-up (not as TOML:
    that is `Document.problems`)."""
    notes = Notes(texts)
    values: dict[str, Any] = texts.values
    if "format" in values and (type(values["format"]) is not int or values["format"] != 1):
        message = f"the file is in format {notes.value_text(('format',), values['format'])}, and only format 1 is known"
        notes.add("not-a-setup", ("format",), message, "write format = 1, or take a newer setuplint")
        return Built(Setup(declarations.craft(Fields(notes, ("craft",), {}), _stem(texts.name))), tuple(notes.problems))
    notes.problems += texts.problems
    for kind in texts.open if not texts.is_shared_file else ():
        notes.damage((kind,))
    note_what_the_text_lost(notes)
    note_format_errors(notes, values)
    setup = _Builder(notes, values).setup()
    return Built(setup, _one_a_cause(texts, notes.problems))


def _one_a_cause(texts: Texts, problems: list[SetupProblem]) -> tuple[SetupProblem, ...]:
    """In the order of the file; a name that nothing declares once, with the other places that use it."""

    def place(p: SetupProblem) -> tuple[int, int, tuple[int, int]]:
        document = texts.holder(p.path, p.file)
        return texts.order(document), document.span(p.path)[0], p.within or (0, 0)

    found: list[SetupProblem] = []
    first: dict[str, int] = {}
    for problem in sorted(problems, key=place):
        n = first.setdefault(problem.subject, len(found)) if problem.rule == "unknown-name" else len(found)
        if n == len(found):
            found.append(problem)
            continue
        others = {other.path for other in found[n].related} | {found[n].path}
        if problem.path not in others and len(others) <= MOST_RELATED:
            found[n] = found[n]._replace(related=(*found[n].related, RelatedPlace(problem.path, "and here")))
    return tuple(found)


def _stem(name: str) -> str:
    last = name.replace("\\", "/").rsplit("/", 1)[-1]
    return last.rsplit(".", 1)[0] or last


def _declared_paths(values: Mapping[str, Any]) -> Iterator[Path]:
    waiting: list[tuple[Path, Any]] = [((), values)]
    while waiting:
        path, value = waiting.pop()
        inner = value.items() if isinstance(value, dict) else enumerate(value)
        for step, item in inner:
            here = (*path, step)
            if isinstance(item, dict) or (isinstance(item, list) and len(path) == 0):
                yield here
                if len(here) < SAID_DEEP:
                    waiting.append((here, item))
            elif isinstance(value, dict):
                yield here


class _Builder:
    def __init__(self, notes: Notes, values: dict[str, Any]) -> None:
        self.notes, self.values = notes, values
        self.names = Names(nearest=notes.nearest)
        known = core_schema()["fields"]
        strange = [key for key in values if key not in known]
        self.misspelt = {key: notes.nearest.match(key, known) for key in strange[:20]}
        self.tables = {kind: self.parts_of(kind) for kind in NAMED}

    def top(self, key: str) -> Fields:
        """A table of the file; where it is absent, an empty one."""
        absent = key not in self.values and (key,) not in self.notes.lost
        return Fields(self.notes, (key,), {} if absent else self.values.get(key))

    def parts_of(self, kind: str) -> dict[str, Fields]:
        """The named parts of a kind; also those of which the file has a name alone: in a table whose heading is
        misspelt, or lost with its line. These come first: what a lost mode does comes before what others do."""
        found: dict[str, Fields] = {}
        for heading, meant in self.misspelt.items():
            if meant == kind and isinstance(self.values[heading], dict):
                found.update({name: Fields(self.notes, (kind, name), None) for name in self.values[heading]})
        table = self.values.get(kind)
        table = table if isinstance(table, dict) else {}
        for document in self.notes.texts:
            if kind not in MAY_BE_SHARED and document is not self.notes.texts.own:
                break
            for path in document.broken:
                if len(path) >= 2 and path[0] == kind and path[1] not in table:
                    found[str(path[1])] = Fields(self.notes, (kind, str(path[1])), None)
        for name in found:
            self.notes.damage((kind, name))
        for name in table:
            found[name] = Fields(self.notes, (kind, name), table[name])
        return found

    def open_kinds(self) -> set[str]:
        """The kinds of which parts may exist that could not be read, not even their names."""
        kinds = {*NAMED, "sticks"}
        found = {
            kind for kind in kinds if (kind,) in self.notes.gone or not isinstance(self.values.get(kind, {}), dict)
        }
        if () in self.notes.gone:
            found |= kinds
        if ("extends",) in self.notes.gone:
            found.update(MAY_BE_SHARED)
        return found | self.notes.texts.open

    def setup(self) -> Setup:
        names, tables = self.names, self.tables
        names.open = frozenset(self.open_kinds())
        clashes = self.check_names()
        craft = declarations.craft(self.top("craft"), _stem(self.notes.texts.name))
        battery = declarations.battery(self.top("battery"))
        sticks = self.sticks(clashes)
        switches = self.good("switches", declarations.switch, clashes)
        sensors = self.good("sensors", declarations.sensor, clashes)
        self.name_controls(sticks, switches, sensors, battery.cells, clashes)
        self.limit_modes()
        names.modes, names.channels = tables["modes"], tables["channels"]
        modes, conditions = self.modes(), self.conditions(clashes)
        conditions, modes = self.settle(conditions, modes)
        curves = self.good("curves", declarations.curve, ())
        channels, overrides = self.channels(curves, modes)
        self.check_numbers(channels)
        start = self.top("start")
        field, swash = self.values.get("field"), self.values.get("swash")
        setup = Setup(
            craft=craft,
            battery=battery,
            sticks=sticks,
            switches=switches,
            sensors=sensors,
            conditions=conditions,
            modes=modes,
            curves=curves,
            channels=channels,
            overrides=overrides,
            alarms={name: declarations.alarm(part, names) for name, part in tables["alarms"].items()},
            timers=self.good("timers", lambda part: declarations.timer(part, names), ()),
            failsafe=declarations.failsafe(self.top("failsafe"), names),
            start=start.formula("requires", names),
            intent=declarations.intent(self.top("intent"), names),
            swash=declarations.swash(self.top("swash")) if swash is not None else None,
            elevation_m=self.top("field").number("elevation-m") if field is not None else None,
            claims=tuple(declarations.claim(part, names, n) for n, part in enumerate(self.items("claims"))),
            waivers=tuple(
                waiver
                for n, part in enumerate(self.items("waivers"))
                if (waiver := declarations.waiver(part, n)) is not None
            ),
            declared=frozenset(_declared_paths(self.values)),
            brought=self.notes.texts.brought,
        )
        return replace(setup, broken=frozenset(self.notes.broken))

    def items(self, key: str) -> list[Fields]:
        items = self.values.get(key)
        if not isinstance(items, list) or len(items) > core_schema()["fields"][key]["schema"]["max_length"]:
            return []
        return [Fields(self.notes, (key, n), each) for n, each in enumerate(items)]

    def good(self, kind: str, build_one: Callable[[Fields], T | None], clashes: Any) -> dict[str, T]:
        """Those parts of a kind of which enough is known."""
        found = {}
        for name, part in self.tables[kind].items():
            made = build_one(part)
            if made is None:
                self.notes.damage(part.path)
            elif name not in clashes:
                found[name] = made
        return found

    def sticks(self, clashes: set[str]) -> dict[str, Stick]:
        part = self.top("sticks")
        found = {}
        for name in STICKS:
            stick = part.child(name) if name in part.table else Fields(self.notes, part.path_of(name), {})
            found[name] = Stick(name, trim=stick.number("trim"), place=stick.text("place"))
        for name, knob in self.tables["knobs"].items():
            if name not in clashes:
                found[name] = Stick(name, knob=True, place=knob.text("place"))
        return found

    def check_names(self) -> set[str]:
        """Note every name that is a word of the language or stands twice in the one space; the latter are returned."""
        for kind in NAMED:
            for name in self.tables[kind]:
                if name in RESERVED:
                    declarations.note_reserved_word(self.notes, (kind, name), name, key=True)
                elif kind == "curves" and name == "straight":
                    message = "no curve can be called straight: that is the word for none"
                    self.notes.add("not-a-setup", (kind, name), message, "call it for example line", key=True)
        places: dict[str, list[Path]] = {name: [("sticks", name)] for name in STICKS}
        for kind in ONE_SPACE[1:]:
            for name in self.tables[kind]:
                places.setdefault(name, []).append((kind, name))
        clashes = {name for name, paths in places.items() if len(paths) > 1}
        for name in clashes:
            paths = sorted(places[name], key=self.place)
            message = f"{name} is the name of {word_list(map(_one_of, paths), 'and')}"
            others = tuple((path, "the same name here") for path in paths[:-1] if self.place(path) >= (0, 0))
            help = "give each its own name: sticks, knobs, switches, sensors and conditions share one space"
            self.notes.add("name-clash", paths[-1], message, help, subject=name, key=True, related=others)
            for path in paths:
                self.notes.damage(path)
        return clashes

    def place(self, path: Path) -> tuple[int, int]:
        """Its key's, in the order of the texts; negative where it has none."""
        document = self.notes.texts.holder(path)
        span = document.key_span(path)
        return (self.notes.texts.order(document), span[0]) if span else (-1, -1)

    def name_controls(self, sticks: Any, switches: Any, sensors: Any, cells: int | None, clashes: set[str]) -> None:
        names = self.names
        strange = self.values.get("sticks")
        names.controls.update(dict.fromkeys(strange if isinstance(strange, dict) else (), "broken"))
        for kind in ONE_SPACE[1:]:
            what = "condition" if kind == "conditions" else "broken"
            names.controls.update(dict.fromkeys(self.tables[kind], what))
        for stick in sticks.values():
            names.controls[stick.name] = "knob" if stick.knob else "stick"
            names.ranges[stick.name] = STICK_RANGE
        for name, switch in switches.items():
            names.controls[name] = "switch"
            names.positions[name] = switch.positions
        for name, sensor in sensors.items():
            names.controls[name] = "sensor"
            names.ranges[name] = sensor_range(sensor.reads, cells)
        names.controls.update(dict.fromkeys(clashes, "broken"))

    def modes(self) -> dict[str, Mode]:
        table = self.tables["modes"]
        found = {
            name: declarations.mode(part, self.names, n == len(table) - 1)
            for n, (name, part) in enumerate(table.items())
        }
        if self.names.may_be_missing("modes"):
            because = "there may be modes that could not be read"
            found = {name: replace(mode, when=Unknown(because)) for name, mode in found.items()}
        return found

    def limit_modes(self) -> None:
        """Every channel has a line in every mode: a file of thousands of both is no set-up of a craft."""
        modes, channels = len(self.tables["modes"]), len(self.tables["channels"])
        if modes * channels > MOST_LINES:
            message = f"{modes} modes and {channels} channels are more than can be judged together"
            self.notes.add("not-a-setup", ("modes",), message, "take out those that are not used")
            self.tables["modes"] = {}
            self.names.open |= {"modes"}

    def conditions(self, clashes: set[str]) -> dict[str, Condition]:
        found = {}
        for name, part in self.tables["conditions"].items():
            made = declarations.condition(part, self.names)
            found[name] = Condition(name, Unknown(f"{name} names two things")) if name in clashes else made
        return found

    def settle(
        self, conditions: dict[str, Condition], modes: dict[str, Mode]
    ) -> tuple[dict[str, Condition], dict[str, Mode]]:
        """Dependency order, loops noted and unknown. A latch or toggle that stands on something unknown is unknown as a
        whole: memory never holds what is not known."""
        names, loops = dependency_order(conditions, modes)
        for loop in loops:
            self.note_loop(loop.way, conditions, modes)
        loose = {name for loop in loops for name in loop.members}
        if loose:
            because = "{} depends on itself"
            for name in loose - {MODE}:
                self.notes.damage(("conditions", name))
                conditions[name] = Condition(name, Unknown(because.format(f"the condition {name}")))
            if MODE in loose:
                modes = {
                    name: replace(mode, when=Unknown(because.format("the mode")))
                    if loose.intersection(names_in(mode.when))
                    else mode
                    for name, mode in modes.items()
                }
        conditions = {name: conditions[name] for name in names}
        if self.notes.problems or self.notes.gone:
            for name, reason in unsettled_by(conditions, modes).items():
                if name != MODE and conditions[name].remembers:
                    conditions[name] = Condition(name, Unknown(reason))
        return conditions, modes

    def note_loop(self, way: list[str], conditions: Mapping[str, Condition], modes: Mapping[str, Mode]) -> None:
        places = [
            self.mention(one, other, conditions, modes) for one, other in zip(way, [*way[1:], way[0]], strict=True)
        ]
        shown = [name or "the mode" for name in [*way, way[0]]]
        if len(shown) > LONGEST_LOOP:
            shown[LONGEST_LOOP - 3 : -2] = ["..."]
        path, within = places[0]
        if way[0]:
            message = f"the condition {way[0]} depends on itself: {' → '.join(shown)}"
        else:
            message = f"{dotted(path)} asks for the mode that it decides"
        related = tuple((at, f"and {at[1]} stands on this") for at, _ in places[1:LONGEST_LOOP])
        help = "take one of these names out of the formula that uses it"
        if MODE in way:
            help += "; naming any mode stands on the `when` of every mode"
        subject = ", ".join(name or "mode" for name in way[:LONGEST_LOOP])
        self.notes.add(
            "condition-loop", path, message, help, subject=subject, within=within, related=related, lose=False
        )

    def mention(
        self, one: str, other: str, conditions: Mapping[str, Condition], modes: Mapping[str, Mode]
    ) -> tuple[Path, tuple[int, int] | None]:
        """Where the condition (or MODE) `one` names `other`."""
        if one == MODE:
            name = next(mode.name for mode in modes.values() if other in names_in(mode.when))
            path: Path = ("modes", name, "when")
        else:
            path = ("conditions", one, "when" if other in names_in(conditions[one].when) else "until")
        return path, _where_named(parsed_formula(self.notes.value_at(path)), other)

    def channels(
        self, curves: Mapping[str, Any], modes: Mapping[str, Mode]
    ) -> tuple[dict[str, Channel], dict[str, Override]]:
        world = World(self.notes, self.names, curves, self.tables["curves"], modes)
        channels, dark = {}, set()
        for name, part in self.tables["channels"].items():
            channels[name], known = build_channel(part, world)
            if not known:
                dark.add(name)
        overrides = {}
        for name, part in self.tables["overrides"].items():
            made = declarations.override(part, self.names)
            if made is None:
                self.notes.damage(part.path)
                if self.notes.value_at(part.path) != {}:  # else its heading is just being typed
                    dark.update(channels)
            else:
                overrides[name] = made
        if "overrides" in self.names.open:
            dark.update(channels)
        for name in dark:
            channel = channels[name]
            unknown = {mode: Line(None) for mode in channel.lines}
            channels[name] = replace(channel, own=Line(None), lines=unknown)
        if dark:
            overrides = {
                name: replace(override, value=None) if override.channel in dark else override
                for name, override in overrides.items()
            }
        return channels, overrides

    def check_numbers(self, channels: Mapping[str, Channel]) -> None:
        by_number: dict[int, list[str]] = {}
        for channel in channels.values():
            if channel.number is not None:
                by_number.setdefault(channel.number, []).append(channel.name)
        for number, names in by_number.items():
            if len(names) > 1:
                paths: list[Path] = [("channels", name, "number") for name in names]
                self.notes.add(
                    "channel-clash", paths[-1], f"channel {number} of the receiver is {word_list(names, 'and')}",
                    "give each channel its own number", subject=", ".join(names[:MOST_RELATED]),
                    related=tuple((path, f"{number} here too") for path in paths[:-1][:MOST_RELATED]), lose=False,
                )  # fmt: skip


def _where_named(written: Written, name: str) -> tuple[int, int] | None:
    """The place of a condition's name (MODE: of a mode) in a formula."""
    if isinstance(written, Group):
        return next(filter(None, (_where_named(item, name) for item in written.items)), None)
    found = written.kind == "mode" if name == MODE else written.kind == "name" and written.words[0].text == name
    return (written.start, written.end) if found else None


def _one_of(path: Path) -> str:
    return {"sticks": "a stick", "knobs": "a knob", "switches": "a switch", "sensors": "a sensor"}.get(
        str(path[0]), "a condition"
    )
