"""The fingerprint of a setup: eight hexadecimal digits of what the transmitter and its receiver hold, and of [intent].

Two setups of one fingerprint are one and the same transmitter, so what was proved on it with the one is proved for the other.
"""

from __future__ import annotations

import json
from hashlib import sha256

from setuplint.setup.held import held_values
from setuplint.setup.model import Setup


def fingerprint(setup: Setup) -> str:
    """Comments, layout, the order of tables (but of modes), how numbers are written, and shared files do not change it; nor do
    [craft], [battery], [packs], [receiver-supply], [field], claims and waivers."""
    written = json.dumps(held_values(setup), sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    return sha256(written.encode()).hexdigest()[:8]
