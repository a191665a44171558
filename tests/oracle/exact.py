"""Exact fractions for the oracle: those of quicktions, which are Python's in all but their speed; without it, Python's."""

try:
    from quicktions import Fraction
except ImportError:
    from fractions import Fraction

__all__ = ["Fraction"]
