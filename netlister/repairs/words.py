"""Words of repairs, as the layout file would have them."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence


def joined(parts: Sequence[str]) -> str:
    """`a`, `a and b`, `a, b and c`."""
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}" if parts else ""


def quoted(name: str) -> str:
    """A name so that it can be pasted into a layout file, within braces too."""
    if re.fullmatch(r"[A-Za-z0-9_](?:[\w./ -]*[\w./-])?", name):
        return name
    return '"' + name.replace("\\", "\\\\").replace('"', '\\"') + '"'
