"""What happened to a wear plan, as recorded facts; `core.plan_event_json` reads and writes them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time
from enum import StrEnum

from followup.core.urgency import Urgency, WearInstruction
from followup.core.wearing_goal import FixedPoint, RangeEnd


class EventType(StrEnum):
    """The kinds of fact a plan is folded from."""

    SKIN_CHECK = "skin_check"
    COMPLAINT = "complaint"
    TRIAGE_RESULT = "triage_result"
    PLAN_INSTRUCTION = "plan_instruction"
    CLINICIAN_DECISION = "clinician_decision"
    PROTOCOL_CHANGE = "protocol_change"
    GOAL_CHANGE = "goal_change"
    ZONE_CHANGE = "zone_change"
    AWAY = "away"
    BACK = "back"
    ORTHOSIS_CHANGE = "orthosis_change"
    PLAN_END = "plan_end"


class CheckResult(StrEnum):
    """What was seen, best first; ``cannot_say`` when nobody could look well enough."""

    CLEAR = "clear"
    MARK = "mark"
    SORE = "sore"
    CANNOT_SAY = "cannot_say"


class PlanAction(StrEnum):
    """A clinician's word to the plan."""

    AS_PLANNED = "as_planned"
    RESUME = "resume"
    SAME_TIME = "same_time"
    SHORTER = "shorter"
    OFF = "off"
    RESTART = "restart"
    LEAVE_ON = "leave_on"


class DecisionKind(StrEnum):
    """What a clinician may decide against a rule of caution, recorded with the reason.

    ``mark_limit``: a mark may last longer than the cautious limit. ``apart``: of two orthoses the slower does not lead.
    """

    MARK_LIMIT = "mark_limit"
    APART = "apart"


class AwayReason(StrEnum):
    """Why a plan rests."""

    HOSPITAL = "hospital"
    TRAVEL = "travel"
    ILLNESS = "illness"


class OrthosisChange(StrEnum):
    """What was done to the orthosis; after the first three a clinician says the step to start with."""

    ADJUSTED = "adjusted"
    REMADE = "remade"
    LOAN = "loan"
    REPAIRED = "repaired"
    RETURNED_UNCHANGED = "returned_unchanged"

    @property
    def needs_start_step(self) -> bool:
        """True where the fit may be another one, so that the delivery checks are made again."""
        return self in (OrthosisChange.ADJUSTED, OrthosisChange.REMADE, OrthosisChange.LOAN)


class PlanEnding(StrEnum):
    """Why a plan ends for good."""

    TRANSFERRED = "transferred"
    WITHDRAWN = "withdrawn"
    DIED = "died"


@dataclass(frozen=True, slots=True)
class SkinCheck:
    """One look at the skin, for the plan day `plan_on` (local date).

    `mark_minutes` is how long the longest-lasting mark stayed after removal, or the minutes since removal if it is
    still there; None means not said. `worn_minutes` None means worn as planned up to the look. `looked_at` None means
    at the event's `occurred_at`. `by_touch` is True when the skin was felt as well as looked at. `place` is the id of
    a place on the leg.
    """

    plan_on: date
    result: CheckResult
    mark_minutes: int | None = None
    worn_minutes: int | None = None
    broken: bool = False
    discomfort: bool = False
    looked_at: datetime | None = None
    by_touch: bool | None = None
    place: str | None = None


@dataclass(frozen=True, slots=True)
class Complaint:
    """Something was reported about the plan day `plan_on`; nothing is raised until it has been triaged."""

    plan_on: date
    about: str = ""
    place: str | None = None


@dataclass(frozen=True, slots=True)
class TriageOutcome:
    """A triage result as it was recorded; never triaged again. `reason` is the deciding rule's id."""

    instruction: WearInstruction
    urgency: Urgency
    place: str | None = None
    reason: str = ""


@dataclass(frozen=True, slots=True)
class PlanInstruction:
    """A clinician's instruction that holds from the local date `from_on`; `step` is read for ``resume`` only.

    `why` is the reason where one was asked for: a start step.
    """

    action: PlanAction
    from_on: date
    step: int | None = None
    by: str = ""
    why: str = ""


@dataclass(frozen=True, slots=True)
class ClinicianDecision:
    """A clinician's recorded decision against a rule of caution, from `from_on` on. `minutes` is for ``mark_limit``."""

    kind: DecisionKind
    from_on: date
    why: str
    by: str
    minutes: int | None = None


@dataclass(frozen=True, slots=True)
class ProtocolChange:
    """Another protocol from `from_on` on: the dated form with this digest.

    Without a `step` the plan goes on at the highest step that gives no more time than the last clear one.
    """

    protocol: str
    digest: str
    from_on: date
    by: str
    step: int | None = None


@dataclass(frozen=True, slots=True)
class GoalChange:
    """Another wearing goal from `from_on` on; what is None stays as it was."""

    from_on: date
    by: str = ""
    full_wear_minutes: int | None = None
    window_start: time | None = None
    window_end: time | None = None
    range_end: RangeEnd | None = None
    fixed_points: tuple[FixedPoint, ...] | None = None


@dataclass(frozen=True, slots=True)
class ZoneChange:
    """The family lives by the clocks of another IANA zone from the local date `from_on` on."""

    zone: str
    from_on: date


@dataclass(frozen=True, slots=True)
class Away:
    """The plan rests from `from_on` on, until a clinician restarts it after they are back."""

    why: AwayReason
    from_on: date


@dataclass(frozen=True, slots=True)
class Back:
    """They are back on `from_on`; a clinician is asked how to go on."""

    from_on: date


@dataclass(frozen=True, slots=True)
class OrthosisChanged:
    """The orthosis was changed, or came back, on `from_on`."""

    change: OrthosisChange
    from_on: date
    by: str = ""


@dataclass(frozen=True, slots=True)
class PlanEnd:
    """The plan, its messages, its calendar and its links end on `from_on`."""

    why: PlanEnding
    from_on: date
    by: str = ""


EventData = (
    SkinCheck
    | Complaint
    | TriageOutcome
    | PlanInstruction
    | ClinicianDecision
    | ProtocolChange
    | GoalChange
    | ZoneChange
    | Away
    | Back
    | OrthosisChanged
    | PlanEnd
)


@dataclass(frozen=True, slots=True)
class PlanEvent:
    """A fact with the instant it happened and the instant it was recorded, both aware UTC."""

    id: str
    type: EventType
    occurred_at: datetime
    recorded_at: datetime
    data: EventData
