"""What staff confirm before a wear plan starts, and which exceptions need a clinician's release."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum


class DeliveryCheck(StrEnum):
    """One thing to look at with the orthosis and the shoe on; common practice unless a source is named."""

    INSOLE = "insole"
    TOP_EDGE = "top_edge"
    ANKLE_BONES = "ankle_bones"
    TOES = "toes"
    HEEL_SEATED = "heel_seated"
    SHOE_AS_FITTED = "shoe_as_fitted"
    SOCK = "sock"
    PUT_ON_AND_OFF = "put_on_and_off"
    TAUGHT_BACK = "taught_back"
    TEST_MESSAGE = "test_message"


class Outcome(StrEnum):
    """How one check came out."""

    CONFIRMED = "confirmed"
    EXCEPTION = "exception"


NEEDS_RELEASE = frozenset({DeliveryCheck.INSOLE, DeliveryCheck.TOES, DeliveryCheck.ANKLE_BONES})
"""An exception here starts no plan until a clinician has released it: bare plate, overhanging toes, bone contact."""

LABELS: Mapping[DeliveryCheck, str] = {
    DeliveryCheck.INSOLE: "An insole or foot orthosis lies between the foot and the plate",
    DeliveryCheck.TOP_EDGE: "The shell’s top edge clears the tibial tubercle and the fibular head",
    DeliveryCheck.ANKLE_BONES: "Both ankle bones are clear",
    DeliveryCheck.TOES: "The toes do not overhang the plate",
    DeliveryCheck.HEEL_SEATED: "The heel is seated",
    DeliveryCheck.SHOE_AS_FITTED: "The shoe and its heel height are as fitted",
    DeliveryCheck.SOCK: "A thin, plain sock, higher than the orthosis, without wrinkles",
    DeliveryCheck.PUT_ON_AND_OFF: "Put on and taken off by the one who will do it at home",
    DeliveryCheck.TAUGHT_BACK: "How to look at the skin and when to stop, taught back in their own words",
    DeliveryCheck.TEST_MESSAGE: "The test message was answered",
}


@dataclass(frozen=True, slots=True)
class CheckAnswer:
    """One recorded check; an exception carries its reason, and `released` once a clinician has released it."""

    check: DeliveryCheck
    outcome: Outcome
    reason: str = ""
    released: bool = False

    @property
    def blocks(self) -> bool:
        """True while this answer keeps the plan from starting."""
        return self.outcome is Outcome.EXCEPTION and self.check in NEEDS_RELEASE and not self.released


def what_blocks(answers: Iterable[CheckAnswer]) -> tuple[DeliveryCheck, ...]:
    """The checks, in their order, that keep a plan from starting: not recorded yet, or waiting for a release."""
    recorded = {answer.check: answer for answer in answers}
    return tuple(check for check in DeliveryCheck if check not in recorded or recorded[check].blocks)
