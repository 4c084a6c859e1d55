"""One wear plan from its records: load it, replay it, record an event, keep its projection row true."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import Connection

from followup.core.goal_in_force import Decisions, decisions_in_force, goal_in_force, protocol_in_force
from followup.core.message import PlanForMessages
from followup.core.plan_event import EventData, PlanEvent, ProtocolChange, SkinCheck
from followup.core.plan_event_json import data_as_json, event_type, fixed_points_from_json, parse_event
from followup.core.plan_terms import PlanTerms
from followup.core.precaution import Precaution, WithoutOrthosis
from followup.core.wear_day import WearDay, goal_from, issue_instant
from followup.core.wear_plan import PlanProjection, replay, state_of
from followup.core.wear_protocol import WearProtocol
from followup.core.wearing_goal import Activity, RangeEnd, WearingGoal
from followup.errors import UnknownId
from followup.services.practice import Practice
from followup.storage import orthoses, outbox, people, plans

AHEAD_DAYS = 14
TOO_LATE_TO_BEGIN = time(17)


@dataclass(frozen=True)
class PlanRecord:
    """Everything one plan is made of. `started_at` is None until the delivery checks are done.

    `protocol`, `goal` and `decisions` are those in force when it was loaded, `first_protocol` and `first_goal` those
    of the delivery, from which the days are replayed. `forms` are the protocols it was changed to, by digest.
    """

    orthosis: Mapping[str, Any]
    wearer: Mapping[str, Any]
    recorded_precautions: Mapping[str, bool]
    first_protocol: WearProtocol
    first_goal: WearingGoal
    without: WithoutOrthosis
    events: tuple[PlanEvent, ...]
    protocol: WearProtocol
    goal: WearingGoal
    decisions: Decisions
    forms: Mapping[str, WearProtocol]

    @property
    def orthosis_id(self) -> int:
        """The orthosis this plan is for."""
        return int(self.orthosis["id"])

    @property
    def precautions(self) -> frozenset[Precaution]:
        """The precautions recorded as present."""
        return frozenset(Precaution(name) for name, present in self.recorded_precautions.items() if present)

    @property
    def started_at(self) -> datetime | None:
        """When the delivery checks were done and the plan began."""
        started: datetime | None = self.orthosis["started_at"]
        return started

    @property
    def day_one(self) -> date:
        """The plan's first day: the delivery, or the day its checks were done; in the evening, the next."""
        delivered: date = self.orthosis["delivered_on"]
        if self.started_at is None:
            return delivered
        started = self.started_at.astimezone(self.first_goal.zone)
        closed = goal_from(self.first_goal, started.date(), started) is None
        late = started.time() >= TOO_LATE_TO_BEGIN or closed
        return max(delivered, started.date() + timedelta(days=int(late)))

    @property
    def ended_at(self) -> datetime | None:
        """When the plan ended for good, None while it has not."""
        ended: datetime | None = self.orthosis["ended_at"]
        return ended

    @property
    def terms(self) -> PlanTerms:
        """The ladder in force, and what the precautions ask for."""
        return self.terms_with(self.protocol)

    def terms_with(self, protocol: WearProtocol) -> PlanTerms:
        """The terms, were that protocol in force."""
        return PlanTerms.of(protocol, self.goal, self.precautions, self.without, self.decisions)

    @property
    def limit_minutes(self) -> int:
        """How long a mark may last for this wearer."""
        return self.terms.mark_limit_minutes

    @property
    def step_minutes(self) -> tuple[int, ...]:
        """The minutes of each wear step from the first to full wear."""
        terms = self.terms
        return tuple(terms.target(step) for step in range(1, terms.top + 1))

    def on(self, now: datetime) -> date:
        """The wearer's local date at `now`."""
        return now.astimezone(self.goal.zone).date()

    def days(self, now: datetime, ahead: int = AHEAD_DAYS) -> tuple[WearDay, ...]:
        """The plan from its first day to `ahead` days after today."""
        count = max((self.on(now) - self.day_one).days + 1 + ahead, 1)
        return replay(
            self.first_protocol,
            self.first_goal,
            self.precautions,
            self.without,
            self.day_one,
            self.events,
            now,
            count,
            begins_at=self.started_at,
            protocols=self.forms,
        )

    def with_event(self, event: PlanEvent) -> PlanRecord:
        """The same plan, were that event recorded as well."""
        return replace(self, events=(*self.events, event))

    def with_change(self, event: PlanEvent, form: WearProtocol) -> PlanRecord:
        """The same plan, were it changed to that protocol by that event."""
        return replace(self.with_event(event), forms={**self.forms, form.digest: form})

    def for_messages(self, days: tuple[WearDay, ...]) -> PlanForMessages:
        """The plan as messages are made from it."""
        assert self.started_at is not None
        return PlanForMessages(
            days,
            str(self.goal.zone),
            self.terms,
            self.started_at,
            self._looked_at(),
        )

    def _looked_at(self) -> dict[date, datetime]:
        looks: dict[date, datetime] = {}
        for event in self.events:
            if isinstance(event.data, SkinCheck):
                at = event.data.looked_at or event.occurred_at
                looks[event.data.plan_on] = max(at, looks.get(event.data.plan_on, at))
        return looks


def load_plan(connection: Connection, practice: Practice, orthosis_id: int, now: datetime | None = None) -> PlanRecord:
    """The plan of an orthosis; `UnknownId` if there is no such orthosis.

    Without `now` every recorded change of protocol or goal counts as in force.
    """
    orthosis = orthoses.orthosis_row(connection, orthosis_id)
    if orthosis is None:
        raise UnknownId("unknown_orthosis", f"There is no orthosis {orthosis_id}.")
    wearer = people.wearer_row(connection, orthosis["wearer_id"])
    events = tuple(_event(row) for row in plans.events_of(connection, orthosis_id))
    first_goal = _goal(orthosis)
    first_protocol = practice.protocol(orthosis["protocol_id"], orthosis["delivered_on"])
    change = protocol_in_force(first_goal, events, now)
    digests = {event.data.digest for event in events if isinstance(event.data, ProtocolChange)}
    forms = {digest: practice.protocol_form(digest) for digest in digests}
    return PlanRecord(
        orthosis,
        wearer,
        {**people.precautions_of(connection, wearer["id"]), Precaution.PROTECTIVE.value: orthosis["protective"]},
        first_protocol,
        first_goal,
        WithoutOrthosis(wearer["without_orthosis"]),
        events,
        forms[change.digest] if change else first_protocol,
        goal_in_force(first_goal, events, now),
        decisions_in_force(first_goal, events, now),
        forms,
    )


def _goal(orthosis: Mapping[str, Any]) -> WearingGoal:
    return WearingGoal(
        ZoneInfo(orthosis["zone"]),
        orthosis["full_wear_minutes"],
        time.fromisoformat(orthosis["window_start"]),
        time.fromisoformat(orthosis["window_end"]),
        RangeEnd(orthosis["range_end"]),
        fixed_points_from_json(orthosis["fixed_points"]),
        Activity(orthosis["activity"]),
    )


def record_event(
    connection: Connection, practice: Practice, orthosis_id: int, data: EventData, occurred_at: datetime, now: datetime
) -> int:
    """Append an event, take back messages it makes untrue, and bring the projection up to date; the event's id."""
    return record_events(connection, practice, orthosis_id, [data], occurred_at, now)[0]


def record_events(
    connection: Connection,
    practice: Practice,
    orthosis_id: int,
    told: Sequence[EventData],
    occurred_at: datetime,
    now: datetime,
) -> list[int]:
    """As `record_event` for facts that came together, in this order; their ids."""
    orthoses.hold(connection, orthosis_id)
    ids = [
        plans.add_event(connection, orthosis_id, event_type(data), data_as_json(data), occurred_at, now)
        for data in told
    ]
    outbox.withdraw_unsent(connection, orthosis_id, now)
    project(connection, load_plan(connection, practice, orthosis_id, now), now, next_due_at=now, changed=len(told))
    return ids


def project(
    connection: Connection, record: PlanRecord, now: datetime, next_due_at: datetime, *, changed: int
) -> PlanProjection:
    """Write the projection row of a plan; each of `changed` facts raises its revision."""
    found = state_of(record.days(now, ahead=1), now)
    known = plans.projection(connection, record.orthosis_id)
    revision = known["revision"] + changed if known else 1
    plans.put_projection(
        connection, record.orthosis_id, {**projected(found), "revision": revision, "next_due_at": next_due_at}
    )
    return found


def projected(found: PlanProjection) -> dict[str, Any]:
    """The columns of the projection row that replay decides."""
    return {
        "state": found.state.value,
        "step": found.step,
        "day": found.day,
        "target_minutes": found.target_minutes,
        "silent_days": found.silent_days,
        "stopped": found.stopped_since is not None,
    }


def day_reported_on(record: PlanRecord, at: datetime) -> WearDay | None:
    """The plan day a report made at `at` is about: the newest one whose orthosis has gone on by then."""
    days = [day for day in record.days(at, ahead=0) if day.on <= record.on(at)]
    begun = [day for day in days if day.periods and day.periods[0].on_at <= at]
    if begun:
        return begun[-1]
    return days[-1] if days else None


def next_issue(record: PlanRecord, now: datetime) -> datetime:
    """When the plan's next day is issued: 06:00 local."""
    today = issue_instant(record.on(now), record.goal)
    return today if today > now else issue_instant(record.on(now) + timedelta(days=1), record.goal)


def _event(row: Mapping[str, Any]) -> PlanEvent:
    raw = {**row, "id": str(row["id"]), "occurred_at": row["occurred_at"].isoformat()}
    raw["recorded_at"] = row["recorded_at"].isoformat()
    return parse_event({name: raw[name] for name in ("id", "type", "occurred_at", "recorded_at", "data")})
