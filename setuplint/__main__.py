"""`python -m setuplint`."""

from setuplint.cli import start

if __name__ == "__main__":
    start()
