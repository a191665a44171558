"""The browser of the pages' tests."""

from tests.report.conftest import browser as browser
