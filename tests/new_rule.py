"""Lays out a new rule: `python -m tests.new_rule NAME` for one that a formula says, `... NAME MODULE` for one with a function.

It writes `rules/NAME.toml` with an example of each kind; with a module of `setuplint/checks` also the function that the file
names. What is in angle brackets is to be filled in.
"""

from __future__ import annotations

import sys
from pathlib import Path

ROOT = Path(__file__).parent.parent

RULE = '''\
signal = "notice"
title = "<what is wrong, in a pilot's words>"
{kind}
why = """\\
<What happens to whom, in two sentences.>"""
remedy = """\\
<What to change.>"""

[[sources]]
basis = "practice"
says = "<what it rests on>"

[[examples]]                   # <the smallest edit that makes it speak>
speaks = true
edit = {{ "overrides.held.priority" = 10 }}

[[examples]]                   # <just within what is right>
speaks = false
edit = {{ "overrides.held.priority" = 51 }}
'''

FUNCTION = '''

def {function}(ask: Asking) -> Iterator[Finding]:
    """<What it decides, in one sentence: `explain` prints it.>"""
    for override in ask.setup.overrides.values():
        case = ask.find(f.both(f.Predicate("hold called"), f.Decides(override.channel, override.name)), override.name)
        if case is not None:
            yield ask.finding(override.name, f"<{{override.name}} and its numbers>", ("overrides", override.name), case)
'''


def lay_out(name: str, module: str = "", root: Path = ROOT) -> list[Path]:
    """The files that were written. ValueError where there is such a rule, or no such module."""
    path = root / "rules" / f"{name}.toml"
    room = root / "setuplint" / "checks" / f"{module}.py"
    if path.exists():
        raise ValueError(f"there is a rule {name} already")
    if module and not room.exists():
        raise ValueError(f"there is no module {module} in setuplint/checks")
    function = name.replace("-", "_")
    kind = f'check = "{module}.{function}"' if module else 'never = "hold called and rotor driven"'
    path.write_text(RULE.format(kind=kind), encoding="utf-8")
    if not module:
        return [path]
    with room.open("a", encoding="utf-8") as file:
        file.write(FUNCTION.format(function=function))
    return [path, room]


if __name__ == "__main__":
    if not 2 <= len(sys.argv) <= 3:
        sys.exit(__doc__)
    try:
        print("\n".join(str(path.relative_to(ROOT)) for path in lay_out(*sys.argv[1:])))
    except ValueError as error:
        sys.exit(str(error))
    print("Fill in what is in angle brackets; then: python -m pytest -q tests/rules -k NAME, and for its page")
    print("python -m setuplint.formats.rule_pages > rules/README.md; a judge by brute force goes into tests/mutants.")
