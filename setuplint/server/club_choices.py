"""What a club has chosen for a file: by its setuplint.toml as they stand in the editor, where they can be read there."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from setuplint.book.choices import Choices
from setuplint.dataclass import replace
from setuplint.findings import Report
from setuplint.named_tuple import NamedTuple
from setuplint.server.analysis import Analysis

if TYPE_CHECKING:
    from setuplint.club.baseline import Baseline


class ClubChoices(NamedTuple):
    """The choices for a file, why they cannot be used, if so, and what the baseline knows."""

    choices: Choices | None = None
    error: str = ""
    baseline: Baseline | None = None

    def sifted(self, analysis: Analysis, path: str | None) -> Report:
        """The report of all that is shown, with what is known in the baseline apart."""
        report = replace(analysis.report, findings=analysis.findings)
        if self.baseline is None or path is None:
            return report
        return self.baseline.sift(report, path, analysis.choices or self.choices or Choices()).report


def club_choices(path: str | None, texts: Mapping[str, str]) -> ClubChoices:
    """For the file at a path; `texts` are those that are open, by real path."""
    from setuplint.club import nearest

    found = nearest.config_files(path) if path else []
    if not found:
        return ClubChoices()
    from setuplint.book.rule_file import BookError
    from setuplint.club.baseline import BaselineError, read_baseline
    from setuplint.club.choosing import choices
    from setuplint.club.config import ConfigError
    from setuplint.club.policy import policy_of
    from setuplint.server.open_configs import OpenConfigs

    try:
        policy = policy_of(found, OpenConfigs(texts))
        given = choices(policy)
    except (OSError, ConfigError, BookError) as error:
        return ClubChoices(error=str(error))
    if policy is None or not policy.baseline:
        return ClubChoices(given)
    read_baseline.cache_clear()
    try:
        return ClubChoices(given, baseline=read_baseline(policy.baseline))
    except FileNotFoundError:
        return ClubChoices(given, f"there is no {policy.baseline}, which setuplint.toml names as the baseline")
    except BaselineError as error:
        return ClubChoices(given, str(error))
