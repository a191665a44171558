"""Whether a guarantee, written again, still finds all that it found: proved of the formulas alone, without a setup."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction
from itertools import pairwise, product
from math import prod

from setuplint.book.rule_file import Rule
from setuplint.plain.logic import COMPARE
from setuplint.setup.formula_parser import Atom, Group, Written, parsed_formula, written_atoms
from setuplint.setup.formulas import FormulaError

MOST = 20_000  # cases that are looked at

Subject = tuple[
    str, ...
]  # what an atom is about: ("compare", "pack"), ("is", "hold"), ("output", "motor"), ("mode",) ...
Value = Fraction | str | bool | None


def finds_as_much(now: Rule, was: Rule) -> bool:
    """Whether a club's rule as it is now is proved to find all that it found. Where its formula names more than it did, it is
    not: a setup without that is not judged by it."""
    try:
        new, old = _hazard(now), _hazard(was)
    except FormulaError:
        return False
    if not {name for atom in written_atoms(new) for name in _names(atom)} <= {
        n for a in written_atoms(old) for n in _names(a)
    }:
        return False
    return _implies(old, new)


def implies(one: str, others: Iterable[str], most: int = MOST) -> bool:
    """Whether it is proved that wherever the one formula holds, some of the others does, in any setup that has what they name.
    No where there are more than so many cases to look at."""
    try:
        return _implies(parsed_formula(one), Group("or", tuple(map(parsed_formula, others))), most)
    except FormulaError:
        return False


def _implies(one: Written, other: Written, most: int = MOST) -> bool:
    domains = _domains([*written_atoms(one), *written_atoms(other)])
    if prod(map(len, domains.values())) > most:
        return False
    cases = (dict(zip(domains, values, strict=True)) for values in product(*domains.values()))
    return all(_holds(other, case) for case in cases if _holds(one, case))


def _hazard(rule: Rule) -> Written:
    """What must not be."""
    if rule.never is not None:
        return parsed_formula(rule.never)
    return Group("not", (parsed_formula(rule.always or ""),))


def _names(atom: Atom) -> Iterator[str]:
    yield from (f"{atom.kind} {word.text}" for word in atom.words if word.kind == "name")


def _subject(atom: Atom) -> Subject:
    words = [word.text for word in atom.words]
    if atom.kind in ("compare", "output"):
        return (atom.kind, words[-3])
    if atom.kind == "is" and words[1] != "lost":
        return ("is", words[0])
    return ("mode",) if atom.kind == "mode" else (atom.kind, *words)


def _domains(atoms: list[Atom]) -> Mapping[Subject, list[Value]]:
    """The values that tell the atoms apart. A sensor may give no number: no comparison is true then."""
    found: dict[Subject, list[Value]] = {}
    for subject in sorted({_subject(atom) for atom in atoms}):
        texts = sorted({atom.words[-1].text for atom in atoms if _subject(atom) == subject})
        if subject[0] in ("compare", "output"):
            at = sorted(map(Fraction, texts))
            between = [(one + other) / 2 for one, other in pairwise(at)]
            found[subject] = [at[0] - 1, *at, *between, at[-1] + 1, *([None] if subject[0] == "compare" else [])]
        else:
            found[subject] = [None, *texts] if subject[0] in ("is", "mode") and len(subject) < 3 else [False, True]
    return found


def _holds(written: Written, case: Mapping[Subject, Value]) -> bool:
    if isinstance(written, Atom):
        return _is_so(written, case[_subject(written)]) != written.negated
    if written.kind == "not":
        return not _holds(written.items[0], case)
    return (all if written.kind == "and" else any)(_holds(item, case) for item in written.items)


def _is_so(atom: Atom, value: Value) -> bool:
    if isinstance(value, bool):
        return value
    if isinstance(value, Fraction):
        return COMPARE[atom.words[-2].text](value, Fraction(atom.words[-1].text))
    return value is not None and value == atom.words[-1].text
