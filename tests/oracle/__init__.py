"""An independent reading of MEANING.md and FORMAT.md, to hold the product against. It imports nothing from it."""
