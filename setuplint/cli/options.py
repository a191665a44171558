"""The command line: every subcommand with its options. Nothing here imports what a command needs to run."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Iterable, Sequence
from functools import cache
from importlib import import_module

from setuplint.cli.trouble import TROUBLE, Trouble, did_you_mean
from setuplint.formats import format_names
from setuplint.hints import TYPE_CHECKING, Any, NoReturn
from setuplint.named_tuple import NamedTuple

if TYPE_CHECKING:
    from datetime import date

SIGNALS = ("danger", "caution", "notice")  # as findings.SIGNALS, which is not worth an import here


class Option(NamedTuple):
    """An argument of a command: its names, under which heading of the help it stands, and what argparse makes of it."""

    names: tuple[str, ...]
    heading: str
    settings: dict[str, Any]


class Command(NamedTuple):
    """A subcommand. `elsewhere` is the module that has its options, where they need more than this one imports."""

    name: str
    does: str
    options: tuple[Option, ...] = ()
    elsewhere: str = ""


class Parser(argparse.ArgumentParser):
    """Argparse prints its help without a word where that fails, and what it was given as it is."""

    def _print_message(self, message: str, file: Any = None) -> None:
        from setuplint.formats.terminal import log_safe, plain

        super()._print_message(log_safe("\n".join(map(plain, message.split("\n")))), file)

    def error(self, message: str) -> NoReturn:
        """The reason first: a usage of many lines must not hide it."""
        import re

        choice = re.search(r"invalid choice: '(.*)' \(choose from (.*)\)$", message)
        near = did_you_mean(choice[1], re.findall(r"[\w-]+", choice[2])) if choice else ""
        self._print_message(f"{self.prog}: {message}{near}\n", sys.stderr)
        self.print_usage(sys.stderr)
        self.exit(TROUBLE)

    def print_help(self, file: Any = None) -> None:
        from setuplint.cli.console import write_out

        if file is None:
            write_out(self.format_help())
        else:
            super().print_help(file)


class Version(argparse.Action):
    """Looks the version up only when it is asked for."""

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> None:
        from importlib.metadata import PackageNotFoundError, version

        from setuplint.cli.console import write_out

        try:
            write_out(f"setuplint {version('setuplint')}\n")
        except PackageNotFoundError:
            write_out("setuplint (from a folder, not installed)\n")
        parser.exit()


def parser(words: Sequence[str]) -> argparse.ArgumentParser:
    """For these words: a subcommand that is not among them needs no options of its own."""
    top = Parser(
        prog="setuplint",
        description="Checks the set-up of a radio-controlled helicopter for what can hurt someone or lose the craft.",
        epilog="A clean result is not a clearance to fly: check on the bench, blades off or motor disconnected.",
        allow_abbrev=False,
        formatter_class=narrow_help,
    )
    top.add_argument("--version", action=Version, nargs=0, default=argparse.SUPPRESS, help="print the version and stop")
    commands = top.add_subparsers(dest="command", required=True, metavar="COMMAND", prog=top.prog)
    named = [command for command in COMMANDS if command.name in words[:1]]
    for command in named or COMMANDS:  # all of them only for help, and for what is no command
        does = command.does
        added = commands.add_parser(
            command.name, help=does, description=does, allow_abbrev=False, formatter_class=narrow_help
        )
        if command.name in words:
            add_options(added, command)
    return top


def parsed_words(words: Sequence[str]) -> argparse.Namespace:
    """The words of a command line. A mistyped option ends it with its command's usage, and with the one that is near. Trouble
    where an option is the name of a file that is there: a hook gives the names of a commit's files, whatever they are."""
    for word in words[: words.index("--") if "--" in words else None]:
        if word.startswith("-") and word != "-" and os.path.lexists(word):  # to some versions of argparse -h.toml is -h
            raise Trouble(f"{word} is a file too: give it as ./{word}, or give it another name")
    args, unknown = parser(words).parse_known_args(words)
    if unknown:
        import re

        alone = Parser(prog=f"setuplint {args.command}", formatter_class=narrow_help)
        add_options(alone, next(command for command in COMMANDS if command.name == args.command))
        options = re.findall(r"--[a-z-]+", alone.format_usage())
        near = did_you_mean(unknown[0].partition("=")[0], options) if unknown[0].startswith("--") else ""
        alone.error(f"unrecognized arguments: {' '.join(unknown)}{near}")
    return args


def add_options(parser: argparse.ArgumentParser, command: Command) -> None:
    """Those of a command, each under its heading."""
    options: Iterable[Option] = import_module(command.elsewhere).OPTIONS if command.elsewhere else command.options
    groups: dict[str, Any] = {"": parser}
    for names, heading, settings in options:
        if heading not in groups:
            groups[heading] = parser.add_argument_group(heading)
        groups[heading].add_argument(*names, **settings)


def narrow_help(prog: str) -> argparse.HelpFormatter:
    """As wide as the terminal, at most 79: argparse makes one for every option, and would look at the terminal each time."""
    return argparse.HelpFormatter(prog, width=_help_width())


@cache
def _help_width() -> int:
    try:
        columns = os.get_terminal_size(1).columns  # of standard output
    except OSError:
        return 79
    return min(79, max(40, columns - 1))


def day(text: str) -> date:
    from datetime import date

    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not a date like 2027-04-01") from None


def format_and_path(text: str) -> tuple[str, str]:
    form, _, path = text.partition(":")
    known = format_names("reports")
    if form not in known or not path:
        raise argparse.ArgumentTypeError(f"{text!r} is not FORMAT:PATH, FORMAT being {', '.join(known)}")
    return form, path


def option(*names: str, heading: str = "", **settings: Any) -> Option:
    return Option(names, heading, settings)


PAPERS = {".html": "html", ".htm": "html", ".md": "markdown", ".json": "json"}  # a paper's formats by their endings
FILE = option("file", metavar="FILE", help="a setup, or - for standard input")
RULES = option("--rules", action="append", default=[], metavar="DIR", help="a folder of further claims")
POLICY = option(
    "--policy",
    metavar="REV",
    help="judge by what setuplint.toml, the club's rules and the baseline are in that revision of git's",
)
LINK_TO = option(
    "--link-to", metavar="ADDRESS", help="in Markdown, links to the lines: where the files of the repository are seen"
)
PAGE = (
    option("--out", metavar="PATH", help="where to write it: .html to print, .md, .json (standard output)"),
    option("--format", choices=tuple(dict.fromkeys(PAPERS.values())), help="how it is written (by PATH; markdown)"),
    option("--today", type=day, metavar="DATE", help="the date printed on it"),
)

LINT = (
    option("paths", nargs="+", metavar="PATH", help="a setup, a folder of them, or - for standard input"),
    option("--name", help="what to call standard input in findings"),
    option("--format", choices=format_names("reports"), help="how findings are written (text)"),
    option(
        "--out",
        action="append",
        default=[],
        type=format_and_path,
        metavar="FORMAT:PATH",
        help="write them in that format to that file, or to - (standard output); may be repeated: "
        "text:- sarif:findings.sarif",
    ),
    LINK_TO,
    option("--only-new", action="store_true", help="in SARIF, leave out what is waived, in the baseline or not judged"),
    option("--only", action="append", metavar="RULE", help="judge this rule alone; may be repeated"),
    option("--rules", action="append", default=[], metavar="DIR", help="a folder of further claims, each a rule file"),
    option(
        "--fail-on",
        choices=SIGNALS,
        help="the least signal word that makes the status 1 (as setuplint.toml says, else caution)",
    ),
    POLICY,
    option("--no-waivers", action="store_true", help="an audit: waivers hide nothing, what they cover is reported"),
    option(
        "--baseline",
        metavar="FILE",
        help="only what is new is reported: findings in that file are counted, dangers named",
    ),
    option(
        "--baseline-write",
        choices=("shrink", "grow"),
        help="shrink: leave out of the baseline what is no longer found; grow: also put in what is new",
    ),
    option(
        "--cache",
        metavar="DIR",
        help="a folder, outside of what is linted, to keep what was clean: it is not judged again",
    ),
    option("--today", type=day, metavar="DATE", help="the day by which waivers are judged: 2027-04-01"),
    option(
        "--fix",
        action="store_true",
        help="show what every mechanical remedy changes, as a unified diff; each that is in it was tried",
    ),
    option("--write", action="store_true", help="with --fix: change the files; what is left is reported"),
    option(
        "--staged",
        action="store_true",
        help="lint what is staged in git, not what lies on the disk, and compare it with the others of its radios (for hooks)",
    ),
    option(
        "--only-setups",
        action="store_true",
        help="pass over named files that are not setups, as in a folder; to find none is then no failure (for hooks)",
    ),
    option("--verbose", action="store_true", help="list what was passed over, each with the reason"),
)

EXPLAIN = (
    option("rule", nargs="?", metavar="RULE", help="a rule's name; without one, all of them are listed"),
    RULES,
)

TRACE = (
    FILE,
    option(
        "--set",
        action="append",
        default=[],
        metavar="CONTROL=WHERE",
        help="flight=normal, throttle=20 (percent), 'throttle trim=5', pack=21.5, link=lost; what is not set is at rest",
    ),
    option(
        "--then",
        action="append",
        default=[],
        metavar="CONTROL=WHERE,...",
        help="what is moved next: --set is then how the transmitter is switched on; may be repeated. With wait=2 among "
        "what is set or moved, the step is shown 2 s later, delays and ramps under way included",
    ),
    option("--sweep", metavar="STICK", help="draw what every channel puts out along that stick's or knob's travel"),
    option(
        "--csv",
        action="store_true",
        help="with --sweep: as CSV, a row for each percent, and for what else may be between two; outputs in percent and as "
        "pulses in µs, a motor's from 0 to 100 too",
    ),
)

COMPARE = (
    option("paths", nargs="*", metavar="PATH", help="OLD NEW; with --since, files and folders (.)"),
    option(
        "--since",
        metavar="REV",
        help="compare the work tree with where it left that revision of git's; or REV...REV, the second with that",
    ),
    option("--staged", action="store_true", help="with --since: compare what is staged, not the work tree (for hooks)"),
    option("--format", choices=format_names("comparisons"), default="text", help="how it is written (text)"),
    LINK_TO,
    POLICY,
    option("--baseline", metavar="FILE", help="findings in that file are marked, and fail nothing"),
    option(
        "--fail-on",
        choices=("difference", *SIGNALS),
        default="difference",
        help="what makes the status 1: any difference (as it is), or a hazard gained, or changed, by its least signal word",
    ),
)

REPORT = (
    option("paths", nargs="+", metavar="FILE", help="a setup; several, or a folder, make an index too"),
    option("--out", metavar="PATH", help="the page's file; for several setups a folder (standard output)"),
)

SOFTEN = (
    option(
        "hover", nargs="?", metavar="HOVER", help="the output in a hover: 16, '58 of 100', 1580us (FILE has its own)"
    ),
    option("--slope", default="0.6", metavar="S", help="at the hover; a straight line from end to end has 1 (0.6)"),
    option("--smoothing", metavar="KIND", help="how the transmitter joins the points, as in a file (none)"),
    option("--ends", nargs=2, metavar=("LOW", "HIGH"), help="what the curve begins and ends with (-100 100)"),
    option("--of", nargs=2, metavar=("FILE", "CURVE"), help="a curve of a setup: what becomes of it, as a diff"),
    option("--write", nargs=2, metavar=("FILE", "CURVE"), help="the same, and put it into the file"),
)

SCHEMA = (
    option(
        "--of",
        choices=("setup", "club", "report", "record"),
        default="setup",
        help="club: of setuplint.toml; report: of what `lint --format json` writes; record: of what `record` reads (setup)",
    ),
    option("--report", action="store_const", dest="of", const="report", help="the same as --of report"),
)

RECORD = (
    FILE,
    option("record", metavar="RECORD", help="what a sheet's or a card's page saved: a .record.json file, or - "),
    option("--write", action="store_true", help="put the measured numbers into the file, all or none"),
    option("--format", choices=("text", "json"), default="text", help="how it is written (text)"),
    option("--today", type=day, metavar="DATE", help="the date printed on the sheet's lines"),
)

COMMANDS = (  # as README.md lists them
    Command("lint", "Find what can hurt someone or lose the craft, with a case to try on the bench.", LINT),
    Command("explain", "Print the page of a rule, or list them all.", EXPLAIN),
    Command("trace", "Print what every channel puts out in one state, and what decides it.", TRACE),
    Command("compare", "Say what a craft does differently by another setup, with a case for each difference.", COMPARE),
    Command(
        "report",
        "Write a page that shows a setup: findings, curves, battery, who takes what, and an explorer.",
        REPORT,
    ),
    Command(
        "sheet",
        "Write what to enter at the transmitter, in a safe order, with a place to read each number back.",
        (FILE, option("--since", metavar="OLD", help="only what is not as in that setup's sheet"), *PAGE),
    ),
    Command(
        "bench-card",
        "Write what to check on the bench, box by box, with what each channel must read.",
        (
            FILE,
            option("--since", metavar="OLD", help="only what a change touches, from that setup or git revision"),
            *PAGE,
        ),
    ),
    Command(
        "record",
        "Hold what was ticked, read and measured at the transmitter against the setup: what it proves, what explains the rest.",
        RECORD,
    ),
    Command(
        "notes",
        "Say what is good to know about a craft, each sentence decided: what stops it, what the rescue does, what is heard.",
        (
            FILE,
            option("--out", metavar="PATH", help="where to write it (standard output)"),
            option(
                "--format",
                choices=("text", *dict.fromkeys(PAPERS.values())),
                help="how it is written (by PATH; text)",
            ),
            option("--today", type=day, metavar="DATE", help="the date printed on it"),
        ),
    ),
    Command(
        "rules-test",
        "Test a club's own rules: do they find what their examples say, and nothing else?",
        (
            option(
                "paths",
                nargs="*",
                metavar="FOLDER",
                help="a folder of claims, each a rule file (those that setuplint.toml names)",
            ),
            option(
                "--staged",
                action="store_true",
                help="the rules as they are staged; given files, the folders that they belong to (for hooks)",
            ),
        ),
    ),
    Command(
        "new",
        "Write a safe starting setup from questions or options, and lint it: the status is lint's.",
        elsewhere="setuplint.cli.new_options",
    ),
    Command(
        "soften",
        "Work out five points of a curve that is soft around the hover, and what smoothing does to it.",
        SOFTEN,
    ),
    Command("serve", "Answer an editor on standard input and output: the language server."),
    Command("schema", "Print the JSON Schema of a setup, of setuplint.toml, of a report, or of a record.", SCHEMA),
)
