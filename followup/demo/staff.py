"""The practice's own people in the demo: deliveries and their checks, the desk list, the callback queue."""

from __future__ import annotations

import re
import secrets
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta

from followup.core.delivery_check import CheckAnswer, DeliveryCheck, Outcome
from followup.core.wear_day import PlanState
from followup.demo.closing import closing_for
from followup.demo.data import as_csv, read_deliveries
from followup.demo.families import Families
from followup.demo.stage import Household, Stage
from followup.demo.story import CheckException, StoryStaff
from followup.errors import Conflict, FollowupError
from followup.services.check_delivery import record_checks, release_check, see_checks, send_test_message
from followup.services.deliver import import_deliveries
from followup.services.desk import DeskEntry, close_desk_item, see_desk
from followup.services.see_callback import see_callback
from followup.services.see_wearers import WearerView, see_wearer
from followup.services.sent_test import TestStanding
from followup.services.sign_in import Role, Session, add_staff, see_session, sign_in
from followup.services.work_callbacks import QueueEntry, close_callback, note_no_answer, see_queue, take_callback

CALLS_A_ROUND = 3
"""How many calls one person gets through in half an hour."""
RINGING_AT = time(17)
THINKS_FOR = timedelta(minutes=20)
SHOWN = "They showed it to us on their telephone in the room."
PHONE_ONLY = "Phone only: the desk rings them with the times."
NO_MESSAGES = frozenset({"opt_out", "undelivered"})
CALLBACK = re.compile(r"/callbacks/(\d+)")


@dataclass
class Staff:
    """Everybody who signs in. `passwords` are made when the demo starts and kept nowhere else."""

    stage: Stage
    families: Families
    passwords: dict[str, str] = field(default_factory=dict)
    tokens: dict[str, str] = field(default_factory=dict)
    rung_on: set[tuple[int, date]] = field(default_factory=set)
    checked: set[int] = field(default_factory=set)
    heard: int = 0
    on_call_for: set[int] = field(default_factory=set)

    def take_up_work(self) -> None:
        """Give everybody of the story a sign-in."""
        for each in self.stage.story.staff:
            self.passwords[each.user] = secrets.token_urlsafe(9)
            add_staff(self.stage.practice, each.user, each.name, each.role, self.passwords[each.user])

    def session(self, role: Role) -> Session:
        """The session of the first of that role, signed in anew when the last one has ended."""
        who = next(each for each in self.stage.story.staff if each.role is role)
        return self._signed_in(who)

    def morning(self, moved: timedelta) -> None:
        """Take in the file of deliveries as far as it has grown by today; what was in it before changes nothing."""
        today = str(self.stage.now.astimezone(self.stage.zone).date())
        rows = [row for row in read_deliveries(self.stage.data, moved) if row["delivered_on"] <= today]
        summary = import_deliveries(self.stage.practice, as_csv(rows), "program:demo", self.stage.now)
        if summary.faults:
            first = summary.faults[0]
            raise FollowupError("bad_rows", f"{first.column}: {first.message}", f"deliveries.csv:{first.line}")
        self.stage.meet()

    def test_messages(self) -> None:
        """Send the test message of every delivery whose checks are still to come."""
        for household in self._delivered_today():
            send_test_message(self.stage.practice, household.orthosis_id, self.stage.now)

    def delivery_checks(self) -> None:
        """Record the checks of today's deliveries, each exception with its reason."""
        for household in self._delivered_today():
            excepted = {each.check: each for each in self.stage.story.exception if each.who == household.reference}
            answers = {check: _answer(check, excepted.get(check)) for check in DeliveryCheck}
            answers[DeliveryCheck.TEST_MESSAGE] = self._test_answer(household)
            desk = self.session(Role.DESK)
            record_checks(self.stage.practice, household.orthosis_id, answers, desk.staff_id, self.stage.now)
            self.checked.add(household.orthosis_id)

    def _test_answer(self, household: Household) -> CheckAnswer:
        """The families show the test message in the room; whoever is sent none is rung."""
        standing = see_checks(self.stage.practice, household.orthosis_id).sent_test.standing
        if standing is TestStanding.ANSWERED:
            return CheckAnswer(DeliveryCheck.TEST_MESSAGE, Outcome.CONFIRMED)
        reason = SHOWN if standing is TestStanding.SENT else PHONE_ONLY
        return CheckAnswer(DeliveryCheck.TEST_MESSAGE, Outcome.EXCEPTION, reason)

    def release(self, exception: CheckException) -> None:
        """A clinician releases one exception."""
        assert exception.released is not None
        household = self.stage.household_of(exception.who)
        clinician = self.session(Role.CLINICIAN)
        note = exception.released.note
        release_check(self.stage.practice, household.orthosis_id, exception.check, clinician, note, self.stage.now)

    def work(self) -> None:
        """One round of half an hour: the on-call telephone at any time, the lists in clinic hours."""
        self._hear_alerts()
        if not self.stage.practice.facts.hours.is_open(self.stage.now):
            return
        self._work_desk()
        self._ring_each_day()
        waiting = [each for each in see_queue(self.stage.practice, self.stage.now) if self._may_try(each)]
        for entry in waiting[:CALLS_A_ROUND]:
            self.call_back(entry)

    def call_back(self, entry: QueueEntry) -> None:
        """Ring about one callback; close it with what follows from its facts, or note that nobody answered."""
        stage = self.stage
        clinician = self.session(Role.CLINICIAN)
        household = stage.households.get(entry.orthosis_id or 0)
        take_callback(stage.practice, entry.callback_id, clinician, stage.now)
        if household is not None and not self.families.picks_up(household):
            next_try = stage.now + timedelta(hours=1) if entry.urgency > 2 else self._next_opening()
            note_no_answer(stage.practice, entry.callback_id, clinician, next_try, stage.now)
            return
        view = see_callback(stage.practice, entry.callback_id, stage.now)
        closing = closing_for(view, stage.now)
        close_callback(stage.practice, entry.callback_id, clinician, view.entry.version, closing, stage.now)

    def _next_opening(self) -> datetime:
        stretches = self.stage.practice.facts.hours.stretches_from(self.stage.now)
        return next(begin for begin, _ in stretches if begin > self.stage.now)

    def _signed_in(self, who: StoryStaff) -> Session:
        practice, now = self.stage.practice, self.stage.now
        found = see_session(practice, self.tokens.get(who.user, ""), now)
        if found is None:
            self.tokens[who.user] = sign_in(practice, who.user, self.passwords[who.user], now)
            found = see_session(practice, self.tokens[who.user], now)
        assert found is not None
        return found

    def _delivered_today(self) -> list[Household]:
        return [each for each in self.stage.households.values() if each.orthosis_id not in self.checked]

    def _may_try(self, entry: QueueEntry) -> bool:
        now = self.stage.now
        return (entry.next_try_at or now) <= now and entry.opened_at + THINKS_FOR <= now

    def _hear_alerts(self) -> None:
        """Out of hours the person on call rings whom their messages are about, until somebody answers."""
        stage = self.stage
        for each in stage.receiver.at_address(stage.story.practice.on_call_address)[self.heard :]:
            self.heard += 1
            self.on_call_for.update(int(id) for id in CALLBACK.findall(each.words()))
        if stage.practice.facts.hours.is_open(stage.now):
            return
        for entry in see_queue(stage.practice, stage.now):
            if entry.callback_id in self.on_call_for and (entry.next_try_at or stage.now) <= stage.now:
                self.call_back(entry)

    def _work_desk(self) -> None:
        for entry in see_desk(self.stage.practice, self.stage.now)[: 2 * CALLS_A_ROUND]:
            self._do(entry)

    def _do(self, entry: DeskEntry) -> None:
        stage, desk = self.stage, self.session(Role.DESK)
        household = stage.households.get(entry.orthosis_id or 0)
        note = "Put with the papers; nobody of ours."
        if household is not None:
            if not self.families.picks_up(household):
                return
            if entry.kind in NO_MESSAGES or all(each.channel == "phone" for each in household.contacts):
                stage.rings.add(household.orthosis_id)
            note = "Rang; heard how it is."
        with suppress(Conflict):  # an answer on the telephone a moment ago may have closed it
            close_desk_item(stage.practice, entry.id, desk, note, stage.now)
        if household is not None:
            self._ask(household, desk)

    def _ring_each_day(self) -> None:
        """Families no message reaches are rung once a day, late enough to ask about the day."""
        local = self.stage.now.astimezone(self.stage.zone)
        closes = self.stage.practice.facts.hours.closes_on_same_day(self.stage.now)
        late = local.time() >= RINGING_AT or (closes is not None and closes - self.stage.now <= timedelta(hours=1))
        for orthosis_id in sorted(self.stage.rings) if late else ():
            household = self.stage.households[orthosis_id]
            today = self.stage.now.astimezone(household.zone).date()
            if (orthosis_id, today) not in self.rung_on and self.families.picks_up(household):
                self._ask(household, self.session(Role.DESK))

    def _ask(self, household: Household, desk: Session) -> None:
        """Ask about the skin by phone, once a day; with a plan that is off, ask a clinician to look at it again."""
        today = self.stage.now.astimezone(household.zone).date()
        if (household.orthosis_id, today) in self.rung_on:
            return
        self.rung_on.add((household.orthosis_id, today))
        view = see_wearer(self.stage.practice, household.orthosis_id, self.stage.now)
        if view.started_at is None or view.open_callback_id is not None:
            return
        findings = {"mark_minutes": 0, "wants_call": True} if _is_off(view) else self.families.seen(household, 20)
        self.families.ring(household, desk, findings)


def _answer(check: DeliveryCheck, exception: CheckException | None) -> CheckAnswer:
    if exception is None:
        return CheckAnswer(check, Outcome.CONFIRMED)
    return CheckAnswer(check, Outcome.EXCEPTION, exception.reason)


def _is_off(view: WearerView) -> bool:
    return bool(view.days) and view.days[-1].day.state is PlanState.OFF
