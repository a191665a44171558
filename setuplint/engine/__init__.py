"""The engine's face: questions decided over every reachable state, exactly, with a case to try on the bench.

The library's word for it is `setuplint.decide(setup)`. A name cannot be both a room and a function: hence the room's own.
"""
