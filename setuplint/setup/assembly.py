"""From the values of a file to a `Setup`, with every problem at its place, and what is broken standing as unknown."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping

from setuplint.dataclass import replace
from setuplint.hints import Any, TypeVar
from setuplint.named_tuple import NamedTuple
from setuplint.setup import declarations
from setuplint.setup.channels import Scope, channel_and_known, lent_channel, undescribed
from setuplint.setup.dependencies import settled
from setuplint.setup.fields import Fields
from setuplint.setup.format_check import note_format_errors
from setuplint.setup.formulas import Unknown
from setuplint.setup.kept_parts import kept_part, same_basis
from setuplint.setup.model import (
    Battery,
    Channel,
    Condition,
    Curve,
    Mode,
    Override,
    Path,
    Setup,
    Stick,
    Waiver,
    pupil_name,
)
from setuplint.setup.name_space import STICKS, clashing_names, named_controls
from setuplint.setup.notes import Notes
from setuplint.setup.problems import RelatedPlace, SetupProblem, word_list
from setuplint.setup.setup_file import SetupFile, note_what_the_text_lost
from setuplint.setup.texts import Texts

MOST_RELATED = 20  # other places that a finding shows
MOST_LINES = 100_000  # channels times modes

T = TypeVar("T")


class Built(NamedTuple):
    setup: Setup
    problems: tuple[SetupProblem, ...]  # in the order of the file


def built_setup(texts: Texts) -> Built:
    """The set-up of a file, as far as it can be read, and everything that is wrong with it as a set-up (not as TOML:
    that is `Document.problems`)."""
    notes = Notes(texts)
    values: dict[str, Any] = texts.values
    if not texts.has_known_format:
        message = f"the file is in format {notes.value_text(('format',), values['format'])}, and only format 1 is known"
        notes.add("not-a-setup", ("format",), message, "write format = 1, or take a newer setuplint")
        return Built(Setup(declarations.craft(Fields(notes, ("craft",), {}), _stem(texts.name))), tuple(notes.problems))
    notes.problems += texts.problems
    for kind in texts.open if not texts.is_shared_file else ():
        notes.damage((kind,))
    for path in texts.disputed:
        notes.lose(path)
    note_what_the_text_lost(notes)
    note_format_errors(notes, values)
    setup = _Assembly(notes).setup()
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


class _Assembly:
    """Builds the parts in the order in which they need each other."""

    def __init__(self, notes: Notes) -> None:
        self.notes, self.file = notes, SetupFile(notes)
        self.parts = self.file.parts

    def setup(self) -> Setup:
        file = self.file
        clashes = clashing_names(file)
        craft = declarations.craft(file.table("craft"), _stem(self.notes.texts.name))
        battery, packs = self.batteries()
        sticks = self.sticks(clashes)
        switches = self.readable("switches", declarations.switch, clashes=clashes)
        sensors = self.readable("sensors", declarations.sensor, clashes=clashes)
        cells = self.cells_by_pack(battery, packs)
        names = self.names = named_controls(file, sticks, switches, sensors, cells, clashes)
        self.basis = self.basis_of_formulas()
        modes = self.modes()
        conditions, modes = settled(self.notes, self.conditions(clashes), modes)
        curves = self.readable("curves", declarations.curve)
        channels, overrides = self.channels(curves, modes)
        self.check_numbers(channels)
        setup = Setup(
            craft=craft,
            battery=battery,
            packs=packs,
            sticks=sticks,
            switches=switches,
            sensors=sensors,
            conditions=conditions,
            modes=modes,
            curves=curves,
            channels=channels,
            overrides=overrides,
            alarms={name: self.named(alarm, declarations.alarm) for name, alarm in self.parts["alarms"].items()},
            timers=self.readable("timers", declarations.timer, names, basis=self.basis),
            failsafe=declarations.failsafe(file.table("failsafe"), names),
            intent=declarations.intent(file.table("intent"), names),
            swash=declarations.swash(file.table("swash")) if file.values.get("swash") is not None else None,
            elevation_m=file.table("field").number("elevation-m") if file.values.get("field") is not None else None,
            claims=tuple(declarations.claim(claim, names, n) for n, claim in enumerate(file.items("claims"))),
            waivers=self.waivers(),
            declared=file.declared_paths(),
            brought=self.notes.texts.brought,
        )
        return replace(self.with_trainer(self.with_start(setup)), broken=self.notes.all_broken())

    def cells_by_pack(self, battery: Battery, packs: Mapping[str, Battery]) -> dict[str, int | None]:
        """How many cells each pack that is flown has, by what it is called."""
        named = {f"pack {name}": pack.cells for name, pack in packs.items()}
        return {"the battery": battery.cells, **named} if "battery" in self.file.values or not packs else named

    def batteries(self) -> tuple[Battery, dict[str, Battery]]:
        """The pack, without one the first of the others; and these."""
        battery = declarations.battery(self.file.table("battery"), Battery())
        packs = {name: declarations.battery(fields, battery) for name, fields in self.parts["packs"].items()}
        first = next(iter(packs.values()), battery)
        return (battery if "battery" in self.file.values else first), packs

    def with_start(self, setup: Setup) -> Setup:
        """The same with its check at power-up, and what the receiver lives on."""
        declarations.note_too_many_cells(self.notes, setup.sensors, (setup.battery, *setup.packs.values()))
        start, start_warns = declarations.start_check(self.file.table("start"), self.names)
        given = self.file.values.get("receiver-supply") is not None
        supply = declarations.receiver_supply(self.file.table("receiver-supply")) if given else None
        return replace(setup, start=start, start_warns=start_warns, supply=supply)

    def with_trainer(self, setup: Setup) -> Setup:
        """The same with the pupil's places of the sticks that are lent."""
        if self.file.values.get("trainer") is None and ("trainer",) not in self.notes.broken:
            return setup
        trainer = declarations.trainer(self.file.table("trainer"), self.names)
        lent = {pupil_name(name): setup.sticks[name] for name in trainer.sticks}
        pupils = {
            name: Stick(name, pupil_of=s.name, rests_in_the_middle=s.rests_in_the_middle) for name, s in lent.items()
        }
        channels = {name: lent_channel(channel, trainer) for name, channel in setup.channels.items()}
        return replace(setup, trainer=trainer, sticks={**setup.sticks, **pupils}, channels=channels)

    def named(self, fields: Fields, build: Callable[..., T], *given: Any) -> T:
        """A part whose formulas name others."""
        return kept_part(fields, (build, *given), build, self.names, *given, basis=self.basis)

    def readable(
        self,
        kind: str,
        build: Callable[..., T | None],
        *given: Any,
        clashes: Collection[str] = (),
        basis: object = None,
    ) -> dict[str, T]:
        """Those parts of a kind of which enough is known."""
        found = {}
        for name, fields in self.parts[kind].items():
            part = kept_part(fields, kind, build, *given, basis=basis)
            if part is None:
                self.notes.damage(fields.path)
            elif name not in clashes:
                found[name] = part
        return found

    def sticks(self, clashes: Collection[str]) -> dict[str, Stick]:
        table = self.file.table("sticks")
        found = {}
        for name in STICKS:
            absent = Fields(self.notes, table.path_of(name), {})
            stick = absent if table.is_absent(name) else table.child(name)
            if stick.is_lost("rest"):
                self.notes.damage(stick.path_of("rest"))
            middle = name != "throttle" or stick.text("rest") == "middle"
            found[name] = Stick(name, False, stick.number("trim"), stick.text("place"), rests_in_the_middle=middle)
        for name, knob in self.parts["knobs"].items():
            if name not in clashes:
                found[name] = Stick(name, knob=True, place=knob.text("place"))
        return found

    def waivers(self) -> tuple[Waiver, ...]:
        found = (declarations.waiver(waiver, n) for n, waiver in enumerate(self.file.items("waivers")))
        return tuple(waiver for waiver in found if waiver is not None)

    def modes(self) -> dict[str, Mode]:
        table = self.parts["modes"]
        found = {
            name: self.named(fields, declarations.mode, n == len(table) - 1)
            for n, (name, fields) in enumerate(table.items())
        }
        if self.names.may_be_missing("modes"):
            because = "there may be modes that could not be read"
            found = {name: replace(mode, when=Unknown(because)) for name, mode in found.items()}
        return found

    def basis_of_formulas(self) -> object:
        """What all formulas hang on, once the names of modes and channels are known as well."""
        self.limit_modes()
        self.names.modes, self.names.channels = self.parts["modes"], self.parts["channels"]
        return same_basis(self.notes.texts.own.kept, "names", self.names.basis())

    def limit_modes(self) -> None:
        """Every channel has a line in every mode: a file of thousands of both is no set-up of a craft."""
        modes, channels = len(self.parts["modes"]), len(self.parts["channels"])
        if modes * channels > MOST_LINES:
            message = f"{modes} modes and {channels} channels are more than can be judged together"
            self.notes.add("not-a-setup", ("modes",), message, "take out those that are not used")
            self.parts["modes"] = {}
            self.names.open |= {"modes"}

    def conditions(self, clashes: Collection[str]) -> dict[str, Condition]:
        found = {}
        for name, fields in self.parts["conditions"].items():
            condition = self.named(fields, declarations.condition)
            found[name] = Condition(name, Unknown(f"{name} names two things")) if name in clashes else condition
        return found

    def channels(
        self, curves: Mapping[str, Curve], modes: Mapping[str, Mode]
    ) -> tuple[dict[str, Channel], dict[str, Override]]:
        scope = Scope(self.notes, self.names, curves, self.parts["curves"], modes)
        basis = same_basis(
            self.notes.texts.own.kept, "scope", [self.basis, list(curves), list(self.parts["curves"]), list(modes)]
        )
        channels, unknown = {}, set()  # unknown: what the channel puts out
        for name, fields in self.parts["channels"].items():
            channels[name], known = kept_part(fields, "channel", channel_and_known, scope, basis=basis)
            if not known:
                unknown.add(name)
        overrides = {}
        for name, fields in self.parts["overrides"].items():
            override = self.named(fields, declarations.override)
            if override is not None:
                overrides[name] = override
                continue
            self.notes.damage(fields.path)
            if self.notes.value_at(fields.path) != {}:  # else its heading is just being typed
                unknown.update(channels)
        if "overrides" in self.names.open:
            unknown.update(channels)
        channels |= {name: undescribed(channels[name]) for name in unknown}
        hit = {
            name: replace(each, value=None, at_least=None, at_most=None)
            for name, each in overrides.items()
            if each.channel in unknown
        }
        return channels, overrides | hit

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
