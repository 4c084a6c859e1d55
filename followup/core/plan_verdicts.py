"""Verdicts on a day that come from something other than a look at the skin."""

from __future__ import annotations

from followup.core.plan_reason import Reason, ReasonCode
from followup.core.skin_check import Judgement, Verdict
from followup.core.urgency import WearInstruction
from followup.core.wear_protocol import Discomfort

CLEAR_CHECK, LADDER_SAME = Reason(ReasonCode.CLEAR_CHECK), Reason(ReasonCode.LADDER_SAME)
FULL_WEAR_UNASKED = Judgement(Verdict.UNSETTLED, Reason(ReasonCode.FULL_WEAR))
NO_WEAR = Judgement(Verdict.UNSETTLED, Reason(ReasonCode.NO_WEAR_PLANNED))
UNTRIAGED = Judgement(Verdict.SAME_TIME, Reason(ReasonCode.REPORT_OPEN))
DISCOMFORT = {
    Discomfort.LAST_TOLERATED: Judgement(Verdict.SHORTER, Reason(ReasonCode.LAST_TOLERATED)),
    Discomfort.REST_OF_DAY: Judgement(Verdict.SAME_TIME, Reason(ReasonCode.REST_OF_DAY)),
}
FROM_TRIAGE = {
    WearInstruction.SAME_TIME_AGAIN: Judgement(Verdict.SAME_TIME, Reason(ReasonCode.REPORT_SAME_TIME)),
    WearInstruction.SHORTER_TIME: Judgement(Verdict.SHORTER, Reason(ReasonCode.REPORT_SHORTER)),
    WearInstruction.OFF_UNTIL_WE_SPEAK: Judgement(Verdict.STOP, Reason(ReasonCode.REPORT_OFF)),
}
