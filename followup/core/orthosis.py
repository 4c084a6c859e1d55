"""The orthosis as the trade describes it, in neutral words, and notes on what usually suits whom."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from followup.core.precaution import Precaution, WithoutOrthosis


class Side(StrEnum):
    """Which leg wears it."""

    LEFT = "left"
    RIGHT = "right"


class Shell(StrEnum):
    """Where the shell lies."""

    FRONT = "front"
    BEHIND = "behind"


class StrutPosition(StrEnum):
    """Where the strut passes the ankle."""

    INNER = "inner"
    OUTER = "outer"
    BEHIND = "behind"
    NONE = "none"


class Strut(StrEnum):
    """How far the strut gives."""

    FLEXIBLE = "flexible"
    STIFF = "stiff"


class Material(StrEnum):
    """What the frame is made of."""

    CARBON = "carbon"
    PLASTIC = "plastic"


class Footplate(StrEnum):
    """How far forward the footplate reaches."""

    FULL = "full"
    TO_TOES = "to_toes"
    SHORT = "short"


class Heel(StrEnum):
    """Whether the heel is held or free."""

    OPEN = "open"
    CLOSED = "closed"


class WalkingAid(StrEnum):
    """What the wearer leans on."""

    NONE = "none"
    CANE = "cane"
    WALKER = "walker"
    CRUTCHES = "crutches"
    WHEELCHAIR = "wheelchair"
    OTHER = "other"


class Fastening(StrEnum):
    """Which hands it takes to close it."""

    TWO_HANDS = "two_hands"
    ONE_HAND = "one_hand"


@dataclass(frozen=True, slots=True)
class Construction:
    """How one orthosis is built."""

    side: Side
    shell: Shell
    strut: Strut
    strut_position: StrutPosition
    material: Material
    footplate: Footplate
    heel: Heel
    fastening: Fastening
    identifier: str
    lot: str


@dataclass(frozen=True, slots=True)
class WearingCase:
    """What is known at delivery about one wearer and one orthosis; the input of suitability notes."""

    construction: Construction
    walking_aid: WalkingAid
    without_orthosis: WithoutOrthosis
    precautions: frozenset[Precaution]
    wears_two: bool
    one_handed: bool
    shin_bears_pressure: bool


def suitability_notes(case: WearingCase) -> tuple[str, ...]:
    """Rules of thumb that inform and never block; common practice, no source."""
    return tuple(_notes(case))


def _notes(case: WearingCase) -> Iterator[str]:
    build = case.construction
    leans = case.walking_aid is not WalkingAid.NONE
    if (leans or case.wears_two) and build.strut is Strut.FLEXIBLE:
        who = "uses a walking aid" if leans else "wears two"
        yield f"Someone who {who} is usually given the stiffer strut; this one is flexible."
    if not case.shin_bears_pressure and build.shell is Shell.FRONT:
        yield "A shin that cannot bear pressure usually gets the shell behind; this shell lies in front."
    if build.strut_position is StrutPosition.BEHIND:
        yield (
            "A strut behind the ankle may need one size more and its toe end trimmed; look at both ankle bones with "
            "the shoe on."
        )
    if case.one_handed and build.fastening is Fastening.TWO_HANDS:
        yield "Someone who uses one hand needs a fastening that one hand can work; this one takes two."
