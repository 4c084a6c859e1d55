"""The delivery checks in words: what was looked at, what waits for a clinician, what keeps the plan from starting."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from followup.core.delivery_check import LABELS, DeliveryCheck, Outcome
from followup.core.orthosis import Construction, Footplate, StrutPosition
from followup.services.check_delivery import CheckLine, ChecksView
from followup.services.sent_test import SentTest, TestStanding
from followup.web.staff_words import upper_first
from followup.web.voice import Voice
from followup.web.wearer_facts import FactRow

STRUT_PASSES = {
    StrutPosition.INNER: "on the inner side of the ankle",
    StrutPosition.OUTER: "on the outer side of the ankle",
    StrutPosition.BEHIND: "behind the ankle",
    StrutPosition.NONE: "none at the ankle",
}
FOOTPLATES = {
    Footplate.FULL: "Full length",
    Footplate.TO_TOES: "As far as the toes",
    Footplate.SHORT: "Short",
}


@dataclass(frozen=True, slots=True)
class RecordedCheck:
    """One check that was recorded."""

    label: str
    words: str
    reason: str


def recorded_lines(lines: Sequence[CheckLine]) -> tuple[RecordedCheck, ...]:
    """What was looked at already, and how it was."""
    return tuple(RecordedCheck(line.label, _how(line), line.reason) for line in lines if line.outcome is not None)


def _how(line: CheckLine) -> str:
    if line.outcome is Outcome.CONFIRMED:
        return "So"
    return f"Not so; released by {line.released_by}" if line.released_by else "Not so"


def to_release(lines: Sequence[CheckLine]) -> tuple[CheckLine, ...]:
    """Exceptions that start no plan until a clinician has released them."""
    return tuple(line for line in lines if _is_exception(line) and line.needs_release and not line.released_by)


def to_record(lines: Sequence[CheckLine]) -> tuple[CheckLine, ...]:
    """Checks still open, and exceptions that may have been put right since."""
    return tuple(line for line in lines if line.outcome is None or (_is_exception(line) and not line.released_by))


def _is_exception(line: CheckLine) -> bool:
    return line.outcome is Outcome.EXCEPTION


def blocked_words(view: ChecksView) -> str:
    """What keeps the plan from starting, or that it has started."""
    if view.again:
        return _again_words(view)
    if view.started_at is not None:
        return "Everything was looked at. The wear plan has started, and the first times go out."
    waiting = {line.check for line in to_release(view.checks)}
    missing = [LABELS[check] for check in view.blocked_by if check not in waiting]
    if view.lacks_checker and not view.blocked_by:
        return "The plan starts once it is written down who looks at the skin."
    if waiting and not missing:
        return "The plan waits for a clinician’s release."
    if len(view.blocked_by) == len(DeliveryCheck):
        return "The plan starts by itself once all of this has been looked at."
    return f"The plan starts by itself once this has been looked at too: {'; '.join(missing)}."


def _again_words(view: ChecksView) -> str:
    """Where the checks after a change of the orthosis stand."""
    if view.blocked_by:
        return "The orthosis was changed: everything is looked at again, and until then the plan waits."
    return "Everything was looked at again. The plan waits for the step a clinician says to start with."


def say_test(sent: SentTest, voice: Voice) -> str:
    """How far the test message has come, and what to do where it cannot come."""
    at = voice.when(sent.at) if sent.at is not None else ""
    match sent.standing:
        case TestStanding.NOBODY:
            return "No message reaches this family: choose “Not so” and write how they are reached."
        case TestStanding.UNSENT:
            return "The test message was not sent yet."
        case TestStanding.ON_ITS_WAY:
            return "The test message is on its way."
        case TestStanding.NOT_DELIVERED:
            return f"The test message of {at} did not arrive: ask for another address, or write how they are reached."
        case TestStanding.SENT:
            return f"The test message was sent at {at}, not answered yet."
    return f"The test message was answered at {at}."


def send_button(view: ChecksView) -> str:
    """The words of the button that sends the test message; empty where there is nothing to send."""
    if view.started_at is not None:
        return ""
    words = {TestStanding.UNSENT: "Send the test message"}
    words |= dict.fromkeys((TestStanding.SENT, TestStanding.NOT_DELIVERED), "Send the test message again")
    return words.get(view.sent_test.standing, "")


def orthosis_rows(built: Construction) -> tuple[FactRow, ...]:
    """The orthosis in neutral words."""
    return (
        ("Side", upper_first(built.side.value), False),
        ("Built of", f"{upper_first(built.material.value)}; shell {_said('front', built.shell.value)}.", False),
        ("Strut", f"{upper_first(built.strut.value)}, {STRUT_PASSES[built.strut_position]}.", False),
        ("Footplate and heel", f"{FOOTPLATES[built.footplate]}; the heel is {built.heel.value}.", False),
        ("Closed with", upper_first(built.fastening.value.replace("_", " ")), False),
        ("Identifier and lot", " · ".join(filter(None, (built.identifier, built.lot))), False),
    )


def _said(front: str, value: str) -> str:
    return "in front of the shin" if value == front else "behind the calf"
