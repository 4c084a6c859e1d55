"""A place on the leg, as families and clinicians call it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Place:
    """`words` by language; `risk_order` 1 is bone over nerve, 2 bone, 3 soft tissue, 4 between the toes."""

    id: str
    words: Mapping[str, str]
    clinical: str
    risk_order: int
    risk_group: str
    views: tuple[str, ...]
