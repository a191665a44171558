"""Pages: the report, the sheet and the bench card, with their drawings. Each is one file, and nothing is fetched."""
