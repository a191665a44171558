from tests.cli.conftest import command
from tests.club.made import club

__all__ = ["club", "command"]
