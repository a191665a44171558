"""The functions that rules name, looked up by name: a rule's file is the one place that knows of its function."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from importlib import import_module

from setuplint.book.asking import Asking
from setuplint.book.rule_file import BookError, Rule
from setuplint.findings import Finding

Check = Callable[[Asking], Iterator[Finding]]

ROOM = "setuplint.checks"
CLAIM = "claims.broken_claim"  # the function that checks every rule that is a formula


def check_of(rule: Rule) -> Check:
    """The function that a rule names. BookError where there is none."""
    module, _, function = (rule.check or CLAIM).rpartition(".")
    try:
        found: Check = getattr(import_module(f"{ROOM}.{module}"), function)
    except (ImportError, AttributeError) as error:
        if isinstance(error, ImportError) and error.name != f"{ROOM}.{module}":
            raise  # the module is there, and a defect of ours
        raise BookError(f"{rule.name}: check names {rule.check}, and there is no such function in checks") from None
    return found
