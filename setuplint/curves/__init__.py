"""Exact arithmetic of one channel: curves, lines, sums of sticks, and the way from a demand to an output and back."""
