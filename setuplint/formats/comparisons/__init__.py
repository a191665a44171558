"""How a comparison is written: one module a format, found by its file name."""
