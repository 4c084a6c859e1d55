"""Where each default of a plan comes from: published documents, and what was settled without one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from followup.core.plan_reason import ReasonCode


@dataclass(frozen=True, slots=True)
class Basis:
    """Keys of the sources, and in `settled` what no document says. `by_protocol`: the plan's own document says so."""

    sources: tuple[str, ...] = ()
    settled: str = ""
    by_protocol: bool = False


_PROTOCOL = Basis(by_protocol=True)
_STOPS = Basis(("S01", "S02", "S03", "S06", "S15"))
_COMMON = Basis(settled="common practice, no source")
_UNKNOWN = Basis(settled='derived: unknown is not "no"')
_WHOLE_STEP = Basis(settled="derived: the check is of the whole step")
_TRIAGED = Basis(settled="the rule named in the report's result")
_NOT_SEEN = Basis(settled="derived: the skin was not seen in wear since")
_CLINICIAN = Basis(settled="the clinician's word")

BASES: Mapping[ReasonCode, Basis] = {
    ReasonCode.FIRST_DAY: _PROTOCOL,
    ReasonCode.CLEAR_CHECK: _PROTOCOL,
    ReasonCode.LADDER_SAME: _PROTOCOL,
    ReasonCode.FULL_WEAR: _PROTOCOL,
    ReasonCode.MARK_FADED: Basis(settled="derived: not a clear check"),
    ReasonCode.MARK_NOT_TIMED: _UNKNOWN,
    ReasonCode.COULD_NOT_SAY: _UNKNOWN,
    ReasonCode.CHECKED_TOO_EARLY: _COMMON,
    ReasonCode.CHECKED_BEFORE_END: _WHOLE_STEP,
    ReasonCode.TOUCH_NEEDED: Basis(("S13", "S15")),
    ReasonCode.WORN_TOO_LITTLE: _COMMON,
    ReasonCode.NO_WEAR_PLANNED: _WHOLE_STEP,
    ReasonCode.MISSED_CHECK: _COMMON,
    ReasonCode.SILENT_PHONED: Basis(settled="derived: taking it off is not always safe"),
    ReasonCode.CANNOT_REPORT: Basis(("black_2013",)),
    ReasonCode.REPORT_SAME_TIME: _TRIAGED,
    ReasonCode.DISCOMFORT: Basis(("S04", "S11", "S12")),
    ReasonCode.DISCOMFORT_AGAIN: _COMMON,
    ReasonCode.REPORT_SHORTER: _TRIAGED,
    ReasonCode.MARK_OUTLASTED: _STOPS,
    ReasonCode.MARK_WITHOUT_WEAR: Basis(
        _STOPS.sources, "derived: a mark on a day without wear has outlasted any limit"
    ),
    ReasonCode.BROKEN_SKIN: _STOPS,
    ReasonCode.SORE_SKIN: _STOPS,
    ReasonCode.REPORT_OFF: Basis(_STOPS.sources, _TRIAGED.settled),
    ReasonCode.SILENT_OFF: Basis(("black_2013",), "for whom the first one counts; the number is common practice"),
    ReasonCode.REPORT_LEAVE_ON: Basis(("S18",), "derived: the program never reduces what protects"),
    ReasonCode.CLINICIAN_AS_PLANNED: _CLINICIAN,
    ReasonCode.CLINICIAN_RESUME: _CLINICIAN,
    ReasonCode.CLINICIAN_RESTART: _CLINICIAN,
    ReasonCode.CLINICIAN_SAME_TIME: _CLINICIAN,
    ReasonCode.CLINICIAN_SHORTER: _CLINICIAN,
    ReasonCode.CLINICIAN_OFF: _CLINICIAN,
    ReasonCode.CLINICIAN_LEAVE_ON: _CLINICIAN,
    ReasonCode.WINDOW_TOO_SHORT: Basis(settled="common practice: what the window can't hold is left out"),
    ReasonCode.REPORT_OPEN: Basis(settled="derived: nothing is raised before a complaint has been judged"),
    ReasonCode.MARK_AGAIN: _COMMON,
    ReasonCode.LAST_TOLERATED: _PROTOCOL,
    ReasonCode.REST_OF_DAY: _PROTOCOL,
    ReasonCode.TABLE_ENDS: _PROTOCOL,
    ReasonCode.REST_DAY: _PROTOCOL,
    ReasonCode.AWAY: _NOT_SEEN,
    ReasonCode.BACK_WAITS: _NOT_SEEN,
    ReasonCode.WAITS_FOR_START_STEP: Basis(settled="derived: another fit is a new beginning, which a clinician sets"),
    ReasonCode.REPAIRED: _NOT_SEEN,
    ReasonCode.RETURNED_UNCHANGED: _NOT_SEEN,
    ReasonCode.PROTOCOL_CHANGED: _CLINICIAN,
    ReasonCode.GOAL_CHANGED: Basis(settled="what the clinician and the family agreed on"),
    ReasonCode.PLAN_ENDED: Basis(settled="recorded: the plan has ended"),
}
