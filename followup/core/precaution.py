"""What makes a wearer's skin, circulation or safety need more care, and what they can do without the orthosis."""

from __future__ import annotations

from enum import StrEnum


class Precaution(StrEnum):
    """Facts recorded at delivery; each may be present, absent or not recorded."""

    REDUCED_SENSATION = "reduced_sensation"
    DIABETES = "diabetes"
    POOR_CIRCULATION = "poor_circulation"
    ANTICOAGULANT = "anticoagulant"
    FRAGILE_SKIN = "fragile_skin"
    CHANGING_OEDEMA = "changing_oedema"
    SPASTICITY = "spasticity"
    CANNOT_SEE_OR_REACH_FOOT = "cannot_see_or_reach_foot"
    CANNOT_REPORT = "cannot_report"
    CHILD = "child"
    PROTECTIVE = "protective"
    SPINAL_CORD_INJURY_HIGH = "spinal_cord_injury_high"
    OLD_ULCER = "old_ulcer"


class WithoutOrthosis(StrEnum):
    """What the wearer can safely do when the orthosis is off, from most to least."""

    WALKS = "walks"
    WITH_HELP = "with_help"
    TRANSFERS_ONLY = "transfers_only"
    MUST_NOT_STAND = "must_not_stand"

    @property
    def cannot_stand_alone(self) -> bool:
        """True where "take it off" must always come with "sitting or lying, do not stand alone"."""
        return self is not WithoutOrthosis.WALKS
