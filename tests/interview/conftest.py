"""The browser of the pages' tests."""

from tests.browsers import browser as browser
from tests.cli.conftest import command as command
from tests.cli.conftest import folder as folder
