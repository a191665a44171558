"""The browser of the pages' tests."""

from tests.cli.conftest import command as command
from tests.cli.conftest import folder as folder
from tests.report.conftest import browser as browser
