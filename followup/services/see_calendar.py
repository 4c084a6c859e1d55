"""What a family's calendar of one orthosis holds; looking changes nothing."""

from __future__ import annotations

import hashlib
import hmac
from dataclasses import dataclass
from datetime import datetime

from followup.core.plan_calendar import HORIZON, CalendarEntry, calendar_entries, revisions
from followup.core.precaution import Precaution
from followup.services.follow_plan import load_plan
from followup.services.links import CaregiverLink, open_calendar_link
from followup.services.practice import Practice
from followup.storage import orthoses

BEYOND_THE_HORIZON = HORIZON.ahead_days + 2
"""Days ahead to replay: a revision's local date may be a day before its date in UTC."""


@dataclass(frozen=True, slots=True)
class SeenCalendar:
    """The entries behind a link, when they last changed, and what their words depend on."""

    link: CaregiverLink
    entries: tuple[CalendarEntry, ...]
    changed_at: datetime
    mark_limit_minutes: int
    protective: bool
    cannot_stand: bool
    side: str


def see_calendar(practice: Practice, token: str, now: datetime) -> SeenCalendar | None:
    """The calendar behind a link at `now`; None before the plan begins, and for whoever may not be told.

    The link of a plan that has ended still gives the entries as cancelled, so that no alarm goes on ringing.
    `InvalidInput` as `open_link` for a link that is unknown or has run out.
    """
    link = open_calendar_link(practice, token, now)
    with practice.store.read() as connection:
        record = load_plan(connection, practice, link.orthosis_id, now)
        side = orthoses.sides_where_two(connection, [link.orthosis_id]).get(link.orthosis_id, "")
    if record.started_at is None or not link.may_be_told:
        return None
    revised_at = revisions(record.started_at, record.days(now), record.events, now)
    return SeenCalendar(
        link,
        calendar_entries(
            _key(practice, link.orthosis_id),
            record.first_goal.zone,
            record.events,
            lambda at: record.days(at, ahead=BEYOND_THE_HORIZON),
            revised_at,
        ),
        revised_at[-1],
        record.limit_minutes,
        Precaution.PROTECTIVE in record.precautions,
        record.without.cannot_stand_alone,
        side,
    )


def _key(practice: Practice, orthosis_id: int) -> str:
    """Tells the orthoses of all practices apart, and nothing else."""
    return hmac.new(practice.secret, f"calendar:{orthosis_id}".encode(), hashlib.sha256).hexdigest()
