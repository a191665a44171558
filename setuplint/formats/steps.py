"""What the channels give at each step of a witness that needs memory, by the plain evaluator."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from setuplint.findings import Finding, Report


def outputs_on_the_way(report: Report, finding: Finding) -> list[Mapping[str, Fraction]]:
    """The channels of the finding after each step, the last included; what is not known is left out."""
    return [{} for _ in finding.steps[:-1]] + [finding.outputs]
