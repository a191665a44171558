"""The rule book: its files in `rules/`, the editions, what a rule needs to be judged, and the run of all rules over a setup."""
