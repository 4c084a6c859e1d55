"""How soon somebody must act, and what is said about wearing the orthosis meanwhile: two separate outputs."""

from __future__ import annotations

from enum import IntEnum, StrEnum


class Urgency(IntEnum):
    """Six levels, worst last. People are shown the words, never the number."""

    KEEP_TO_PLAN = 0
    DESK_FOLLOW_UP = 1
    CLINICIAN_NEXT_DAY = 2
    CLINICIAN_TODAY = 3
    MEDICAL_TODAY = 4
    EMERGENCY_NOW = 5

    @property
    def id(self) -> str:
        """The name used in data and on the command line, such as ``clinician_today``."""
        return self.name.lower()

    @classmethod
    def from_id(cls, id: str) -> Urgency:
        """The urgency called `id`; raises ``KeyError`` for an unknown one."""
        return cls[id.upper()]


class WearInstruction(StrEnum):
    """What to do with the orthosis until somebody says otherwise."""

    AS_PLANNED = "as_planned"
    SAME_TIME_AGAIN = "same_time_again"
    SHORTER_TIME = "shorter_time"
    OFF_UNTIL_WE_SPEAK = "off_until_we_speak"
    LEAVE_ON_AS_ORDERED = "leave_on_as_ordered"

    @property
    def strength(self) -> int:
        """Position in the order in which instructions combine: the strongest one stands."""
        return _STRENGTH[self]


_STRENGTH = {instruction: position for position, instruction in enumerate(WearInstruction)}


def strongest(instructions: tuple[WearInstruction, ...]) -> WearInstruction:
    """The instruction that stands when several rules speak; ``as_planned`` when none does."""
    return max(instructions, key=lambda each: each.strength, default=WearInstruction.AS_PLANNED)
