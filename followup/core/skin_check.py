"""What one skin check says about the day it belongs to."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from enum import IntEnum
from typing import NamedTuple

from followup.core.plan_event import CheckResult, SkinCheck
from followup.core.plan_reason import Reason, ReasonCode
from followup.core.wear_day import WearDay

WORN_ENOUGH_PERCENT = 80


class Verdict(IntEnum):
    """From best to worst. `UNSETTLED` gives way to a later clear look on the same day; `SAME_TIME` does not."""

    CLEAR = 0
    UNSETTLED = 1
    SAME_TIME = 2
    SHORTER = 3
    STOP = 4


class Judgement(NamedTuple):
    """A verdict and the reason for it."""

    verdict: Verdict
    reason: Reason


CLEAR = Judgement(Verdict.CLEAR, Reason(ReasonCode.CLEAR_CHECK))


def mark_outlasts(mark_minutes: int | None, mark_limit_minutes: int) -> bool:
    """True for a mark that stayed longer after removal than it may."""
    return mark_minutes is not None and mark_minutes > mark_limit_minutes


def worn_enough(worn_minutes: int, target_minutes: int) -> bool:
    """True where at least 80 % of the target was worn (common practice)."""
    return worn_minutes * 100 >= target_minutes * WORN_ENOUGH_PERCENT


def late_enough(looked_at: datetime, day: WearDay, mark_limit_minutes: int) -> bool:
    """True for a look at or after the day's last planned removal plus the mark limit."""
    return bool(day.periods) and looked_at >= day.periods[-1].off_at + timedelta(minutes=mark_limit_minutes)


def judge(
    check: SkinCheck, looked_at: datetime, day: WearDay | None, mark_limit_minutes: int, by_touch: bool
) -> Judgement:
    """What `check` says about the plan day `day` (None: never issued). `by_touch` asks for a look by touch too."""
    if not _seen_clear(check):
        found = _stopping(check, day, mark_limit_minutes) or _milder(check)
        if found is not None:
            return found
    return (
        _too_little_stated(check, looked_at, day)
        or _nothing_known(check)
        or _not_counting(check, looked_at, day, mark_limit_minutes, by_touch)
        or CLEAR
    )


def left_mark(check: SkinCheck) -> bool:
    """True where a mark, or worse, was seen at all, however soon it faded."""
    return check.result in (CheckResult.MARK, CheckResult.SORE) or check.broken or bool(check.mark_minutes)


def _seen_clear(check: SkinCheck) -> bool:
    """True where nothing at all was found, as on most days."""
    return check.result is CheckResult.CLEAR and not (check.mark_minutes or check.broken or check.discomfort)


def of_the_day(judgements: Sequence[Judgement]) -> Judgement:
    """What all checks of one day say together: the worst finding, else a clear look if there was one."""
    if len(judgements) == 1:
        return judgements[0]
    worst = max(judgements, key=lambda each: each.verdict)
    if worst.verdict > Verdict.UNSETTLED:
        return worst
    clear = [each for each in judgements if each.verdict is Verdict.CLEAR]
    return clear[0] if clear else judgements[-1]


def _stopping(check: SkinCheck, day: WearDay | None, limit: int) -> Judgement | None:
    if check.broken:
        return _found(Verdict.STOP, ReasonCode.BROKEN_SKIN)
    if check.result is CheckResult.SORE:
        return _found(Verdict.STOP, ReasonCode.SORE_SKIN)
    if mark_outlasts(check.mark_minutes, limit):
        return _found(Verdict.STOP, ReasonCode.MARK_OUTLASTED, check.mark_minutes or 0, limit)
    if check.result is CheckResult.MARK and day is not None and not day.periods:
        return _found(Verdict.STOP, ReasonCode.MARK_WITHOUT_WEAR)
    return None


def _milder(check: SkinCheck) -> Judgement | None:
    if check.discomfort:
        return _found(Verdict.SHORTER, ReasonCode.DISCOMFORT)
    if check.result is CheckResult.MARK and check.mark_minutes is not None:
        return _found(Verdict.SAME_TIME, ReasonCode.MARK_FADED, check.mark_minutes)
    return None


def _too_little_stated(check: SkinCheck, looked_at: datetime, day: WearDay | None) -> Judgement | None:
    if check.worn_minutes is None or day is None or worn_enough(check.worn_minutes, day.target_minutes):
        return None
    worn_out = looked_at >= day.periods[-1].off_at
    verdict = Verdict.SAME_TIME if worn_out else Verdict.UNSETTLED
    return _found(verdict, ReasonCode.WORN_TOO_LITTLE, minutes=check.worn_minutes)


def _nothing_known(check: SkinCheck) -> Judgement | None:
    if check.result is CheckResult.MARK:
        return _found(Verdict.UNSETTLED, ReasonCode.MARK_NOT_TIMED)
    if check.result is CheckResult.CANNOT_SAY:
        return _found(Verdict.UNSETTLED, ReasonCode.COULD_NOT_SAY)
    return None


def _not_counting(
    check: SkinCheck, looked_at: datetime, day: WearDay | None, limit: int, by_touch: bool
) -> Judgement | None:
    """Why a "clear" does not count as the day's check, if it does not."""
    if day is None or not day.periods:
        return _found(Verdict.UNSETTLED, ReasonCode.NO_WEAR_PLANNED)
    if check.worn_minutes is None and not worn_enough(planned_by(day, looked_at), day.target_minutes):
        return _found(Verdict.UNSETTLED, ReasonCode.CHECKED_BEFORE_END)
    late = late_enough(looked_at, day, limit)
    if not late and (by_touch or check.mark_minutes):
        return _found(Verdict.UNSETTLED, ReasonCode.CHECKED_TOO_EARLY, limit=limit)
    if by_touch and not check.by_touch:
        return _found(Verdict.UNSETTLED, ReasonCode.TOUCH_NEEDED)
    return None


def planned_by(day: WearDay, at: datetime) -> int:
    """Minutes of the day's periods that lie before `at`."""
    spans = [(min(each.off_at, at) - each.on_at).total_seconds() for each in day.periods]
    return sum(int(seconds // 60) for seconds in spans if seconds > 0)


def _found(verdict: Verdict, code: ReasonCode, minutes: int = 0, limit: int = 0) -> Judgement:
    return Judgement(verdict, Reason(code, minutes=minutes, limit_minutes=limit))
