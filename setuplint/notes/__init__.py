"""Handling notes: what is good to know about a craft, each sentence decided by the engine, not composed from spelling."""
