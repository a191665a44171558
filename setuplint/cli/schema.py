"""`setuplint schema`: the JSON Schema of a setup, of setuplint.toml, of a report, or of a record."""

from __future__ import annotations

import argparse
import json

from setuplint.cli.console import write_out


def run(args: argparse.Namespace) -> int:
    if args.of == "report":
        from setuplint.formats.report_schema import report_schema as schema
    elif args.of == "record":
        from setuplint.book.record_file import record_schema as schema
    elif args.of == "club":
        from setuplint.club.schema import json_schema as schema
    else:
        from setuplint.setup.schema import json_schema as schema
    write_out(json.dumps(schema(), indent=2) + "\n")
    return 0
