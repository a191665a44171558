"""`python -m setuplint`."""

import sys

from setuplint.cli import main

if __name__ == "__main__":
    sys.exit(main())
