"""The command line: every subcommand with its options. Nothing here imports what a command needs to run."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from datetime import date
from typing import Any

from setuplint.formats import format_names

SIGNALS = ("danger", "caution", "notice")  # as findings.SIGNALS, which is not worth an import here


class Parser(argparse.ArgumentParser):
    """Argparse prints its help without a word where that fails."""

    def print_help(self, file: Any = None) -> None:
        from setuplint.cli.console import write_out

        if file is None:
            write_out(self.format_help())
        else:
            super().print_help(file)


def parser(words: Sequence[str]) -> argparse.ArgumentParser:
    """For these words: a subcommand that is not among them needs no options of its own."""
    top = Parser(
        prog="setuplint",
        description="Checks the set-up of a radio-controlled helicopter for what can hurt someone or lose the craft.",
        epilog="A clean result is not a clearance to fly: check on the bench, blades off or motor disconnected.",
        allow_abbrev=False,
        formatter_class=plainly,
    )
    top.add_argument("--version", action=Version, nargs=0, default=argparse.SUPPRESS, help="print the version and stop")
    commands = top.add_subparsers(dest="command", required=True, metavar="COMMAND", prog=top.prog)
    for name, add, does in COMMANDS:
        command = commands.add_parser(name, help=does, description=does, allow_abbrev=False, formatter_class=plainly)
        if name in words:
            add(command)
    return top


def parsed_words(words: Sequence[str]) -> argparse.Namespace:
    """The words of a command line. A mistyped option is told with its command's usage, and with the one that is near."""
    args, unknown = parser(words).parse_known_args(words)
    if unknown:
        import re

        from setuplint.cli.trouble import did_you_mean

        command = argparse.ArgumentParser(prog=f"setuplint {args.command}", formatter_class=plainly)
        next(add for name, add, _ in COMMANDS if name == args.command)(command)
        options = re.findall(r"--[a-z-]+", command.format_usage())
        near = did_you_mean(unknown[0].partition("=")[0], options) if unknown[0].startswith("--") else ""
        command.error(f"unrecognized arguments: {' '.join(unknown)}{near}")
    return args


def plainly(prog: str) -> argparse.HelpFormatter:
    """Help of a fixed width: argparse makes one for every option, and would look at the terminal each time."""
    return argparse.HelpFormatter(prog, width=79)


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


def day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not a date like 2027-04-01") from None


def _lint(command: argparse.ArgumentParser) -> None:
    command.add_argument("paths", nargs="+", metavar="PATH", help="a setup, a folder of them, or - for standard input")
    command.add_argument("--name", help="what to call standard input in findings")
    command.add_argument(
        "--format", choices=format_names("reports"), default="text", help="how findings are written (text)"
    )
    command.add_argument("--only", action="append", metavar="RULE", help="judge this rule alone; may be repeated")
    command.add_argument(
        "--rules", action="append", default=[], metavar="DIR", help="a folder of further claims, each a rule file"
    )
    command.add_argument(
        "--fail-on",
        choices=SIGNALS,
        help="the least signal word that makes the status 1 (as setuplint.toml says, else caution)",
    )
    command.add_argument(
        "--no-waivers", action="store_true", help="an audit: waivers hide nothing, what they cover is reported"
    )
    command.add_argument(
        "--baseline",
        metavar="FILE",
        help="only what is new is reported: findings in that file are counted, dangers named",
    )
    command.add_argument(
        "--baseline-write",
        choices=("shrink", "grow"),
        help="shrink: leave out of the baseline what is no longer found; grow: also put in what is new",
    )
    command.add_argument(
        "--cache",
        metavar="DIR",
        help="a folder, outside of what is linted, to keep what was clean: it is not judged again",
    )
    command.add_argument("--today", type=day, metavar="DATE", help="the day by which waivers are judged: 2027-04-01")
    command.add_argument(
        "--fix",
        action="store_true",
        help="show what every mechanical remedy changes, as a unified diff; each that is in it was tried",
    )
    command.add_argument("--write", action="store_true", help="with --fix: change the files; what is left is reported")
    command.add_argument(
        "--only-setups",
        action="store_true",
        help="pass over named files that are not setups, as in a folder; to find none is then no failure (for hooks)",
    )


def _explain(command: argparse.ArgumentParser) -> None:
    command.add_argument("rule", nargs="?", metavar="RULE", help="a rule's name; without one, all of them are listed")
    command.add_argument("--rules", action="append", default=[], metavar="DIR", help="a folder of further claims")


def _rules_test(command: argparse.ArgumentParser) -> None:
    command.add_argument("folders", nargs="+", metavar="FOLDER", help="a folder of claims, each a rule file")


def _schema(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--of",
        choices=("setup", "club", "report"),
        default="setup",
        help="club: of setuplint.toml; report: of what `lint --format json` writes (setup)",
    )
    command.add_argument("--report", action="store_const", dest="of", const="report", help="the same as --of report")


def _trace(command: argparse.ArgumentParser) -> None:
    command.add_argument("file", metavar="FILE", help="a setup, or - for standard input")
    command.add_argument(
        "--set",
        action="append",
        default=[],
        metavar="CONTROL=WHERE",
        help="flight=normal, throttle=20 (percent), pack=21.5, link=lost; what is not set is at rest",
    )
    command.add_argument(
        "--then",
        action="append",
        default=[],
        metavar="CONTROL=WHERE,...",
        help="what is moved next: --set is then how the transmitter is switched on; may be repeated",
    )
    command.add_argument(
        "--sweep", metavar="STICK", help="draw what every channel puts out along that stick's or knob's travel"
    )
    command.add_argument("--csv", action="store_true", help="with --sweep: as CSV, a row for each percent")


def _compare(command: argparse.ArgumentParser) -> None:
    command.add_argument("paths", nargs="*", metavar="PATH", help="OLD NEW; with --since, files and folders (.)")
    command.add_argument("--since", metavar="REV", help="compare what is in the work tree with that revision of git's")
    command.add_argument(
        "--format", choices=format_names("comparisons"), default="text", help="how it is written (text)"
    )
    command.add_argument(
        "--fail-on",
        choices=("difference", *SIGNALS),
        default="difference",
        help="what makes the status 1: any difference (as it is), or a hazard gained, by its least signal word",
    )


def _report(command: argparse.ArgumentParser) -> None:
    command.add_argument("paths", nargs="+", metavar="FILE", help="a setup; several, or a folder, make an index too")
    command.add_argument("--out", metavar="PATH", help="the page's file; for several setups a folder (standard output)")


def _sheet(command: argparse.ArgumentParser) -> None:
    command.add_argument("file", metavar="FILE", help="a setup, or - for standard input")
    command.add_argument("--since", metavar="OLD", help="only what is not as in that setup's sheet")
    command.add_argument(
        "--out", metavar="PATH", help="where to write it: .html to print, .md, .json (standard output)"
    )
    command.add_argument("--format", choices=("html", "markdown", "json"), help="how it is written (by PATH; markdown)")
    command.add_argument("--today", type=day, metavar="DATE", help="the date printed on it")


def _nothing(command: argparse.ArgumentParser) -> None:
    """No options."""


def _bench_card(command: argparse.ArgumentParser) -> None:
    command.add_argument("file", metavar="FILE", help="a setup, or - for standard input")
    command.add_argument(
        "--out", metavar="PATH", help="where to write it: .html to print, .md, .json (standard output)"
    )
    command.add_argument("--format", choices=("html", "markdown", "json"), help="how it is written (by PATH; markdown)")
    command.add_argument("--today", type=day, metavar="DATE", help="the date printed on it")


def _new(command: argparse.ArgumentParser) -> None:
    from setuplint.cli.new_options import add

    add(command)


Add = Callable[[argparse.ArgumentParser], None]

COMMANDS: tuple[tuple[str, Add, str], ...] = (  # as README.md lists them
    ("lint", _lint, "Find what can hurt someone or lose the craft, with a case to try on the bench."),
    ("explain", _explain, "Print the page of a rule, or list them all."),
    ("trace", _trace, "Print what every channel puts out in one state, and what decides it."),
    ("compare", _compare, "Say what a craft does differently by another setup, with a case for each difference."),
    ("report", _report, "Write a page that shows a setup: findings, curves, battery, who takes what, and an explorer."),
    (
        "sheet",
        _sheet,
        "Write what to enter at the transmitter, in a safe order, with a place to read each number back.",
    ),
    ("bench-card", _bench_card, "Write what to check on the bench, box by box, with what each channel must read."),
    ("rules-test", _rules_test, "Test a club's own rules: do they find what their examples say, and nothing else?"),
    ("new", _new, "Write a safe starting setup from options, and lint it."),
    ("serve", _nothing, "Answer an editor on standard input and output: the language server."),
    ("schema", _schema, "Print the JSON Schema of a setup, of setuplint.toml, or of a report."),
)
