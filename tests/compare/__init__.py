"""Comparisons of two set-ups, held against brute force over both (tests/oracle)."""
