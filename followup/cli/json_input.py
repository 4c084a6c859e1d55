"""How JSON that people write is read: what could be read in two ways is refused."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any


def each_key_once(pairs: Sequence[tuple[str, Any]]) -> dict[str, Any]:
    """The object of these pairs, for ``object_pairs_hook``; `ValueError` where a key stands twice."""
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError(f"a key stands twice among {[key for key, _ in pairs]}")
    return found
