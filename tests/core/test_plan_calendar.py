from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st

from followup.core.plan_calendar import HORIZON, CalendarEntry, EntryKind, Horizon, calendar_entries, revisions
from followup.core.plan_event import PlanEvent
from followup.core.plan_event_json import parse_event
from followup.core.urgency import WearInstruction
from followup.core.wear_day import Basis, WearDay
from tests.invariants.plan_stories import Plans, Story, make_story
from tests.wearing import ASHA, Wearer

PLANS = Plans()


def entries_of(wearer: Wearer, events: list[PlanEvent], now: datetime) -> tuple[CalendarEntry, ...]:
    def plan(at: datetime) -> tuple[WearDay, ...]:
        return wearer.plan(events, 40, as_of=at)

    revised_at = revisions(wearer.at(1, "05:00"), plan(now), events, now)
    return calendar_entries("asha-left", wearer.goal.zone, events, plan, revised_at)


def shown(entries: tuple[CalendarEntry, ...], day: int, kind: EntryKind = EntryKind.WEAR) -> list[CalendarEntry]:
    return [each for each in entries if each.on == ASHA.on(day) and each.content.kind is kind and not each.cancelled]


def entries_at(story: Story, at: datetime, horizon: Horizon = HORIZON) -> dict[str, CalendarEntry]:
    events = [parse_event(each) for each in story.events]
    begun_at = story.at(1, 4)

    def plan(known_at: datetime) -> tuple[WearDay, ...]:
        return PLANS.replay(story, known_at)

    revised_at = revisions(begun_at, plan(at), events, at)
    made = calendar_entries("k", ZoneInfo(story.zone), events, plan, revised_at, horizon)
    return {each.uid: each for each in made}


@st.composite
def stories(draw: st.DrawFn) -> Story:
    return make_story(lambda options: draw(st.sampled_from(options)))


def test_every_period_and_look_of_the_next_two_weeks_is_there():
    now = ASHA.at(1, "12:00")
    ahead = [day for day in ASHA.plan([], 40, as_of=now) if day.on <= ASHA.on(15)]
    wanted = {(each.on_at, each.off_at) for day in ahead for each in day.periods}
    looks = {each.at for day in ahead for each in day.checks}
    made = entries_of(ASHA, [], now)
    assert {(e.content.starts_at, e.content.ends_at) for e in made if e.content.kind is EntryKind.WEAR} == wanted
    assert {e.content.starts_at for e in made if e.content.kind is EntryKind.LOOK} == looks


def test_a_day_is_provisional_until_it_is_issued_and_the_change_is_counted():
    before, after = (entries_of(ASHA, ASHA.clear(1), ASHA.at(2, clock)) for clock in ("05:59", "06:00"))
    (was,), (now_is,) = shown(before, 2), shown(after, 2)
    assert (was.content.provisional, now_is.content.provisional) == (True, False)
    assert (was.uid, now_is.sequence) == (now_is.uid, was.sequence + 1)


def test_a_stop_cancels_what_was_still_to_come_at_once():
    sore = ASHA.check(5, "sore", at="10:20")
    events = [*ASHA.clear(1, 2, 3, 4), sore]
    made = entries_of(ASHA, events, ASHA.at(5, "10:20"))
    later = [each for each in made if each.content.starts_at > sore.recorded_at]
    assert later
    assert all(each.cancelled and each.changed_at == sore.recorded_at for each in later)


def test_a_period_that_a_stop_cut_short_ends_there():
    made = entries_of(ASHA, [ASHA.check(1, "sore", at="09:20")], ASHA.at(1, "09:20"))
    assert [each.content.ends_at for each in shown(made, 1)] == [ASHA.at(1, "09:20")]


def test_a_cancelled_entry_comes_back_under_its_own_id():
    events = [*ASHA.clear(1), ASHA.check(2, "sore", at="09:20"), ASHA.word(2, "restart", from_day=4)]
    before = shown(entries_of(ASHA, events, ASHA.at(2, "09:00")), 4)[0]
    after = shown(entries_of(ASHA, events, ASHA.at(2, "22:00")), 4)[0]
    assert (before.uid, before.sequence + 2) == (after.uid, after.sequence)


def test_what_is_left_on_as_ordered_is_never_told_to_come_off():
    guarded = Wearer(precautions=("protective",))
    events = [guarded.check(1, "sore", at="09:40")]
    made = entries_of(guarded, events, guarded.at(3, "12:00"))
    current = [each for each in made if each.on >= guarded.on(2) and not each.cancelled]
    assert current
    assert {each.content.kind for each in current} == {EntryKind.LEAVE_ON}


def test_an_id_says_nothing_but_is_another_for_each_orthosis():
    now = ASHA.at(1, "12:00")
    left, right = (
        calendar_entries(key, ASHA.goal.zone, [], lambda at: ASHA.plan([], 20, as_of=at), [now.astimezone(UTC)])
        for key in ("left", "right")
    )
    assert not {each.uid for each in left} & {each.uid for each in right}


def test_a_plan_without_a_revision_has_no_entries():
    assert calendar_entries("k", ASHA.goal.zone, [], lambda at: (), []) == ()


@given(stories(), st.integers(1, 14), st.integers(0, 72))
def test_a_later_calendar_never_lowers_a_sequence_and_raises_it_just_where_something_changed(story, day, hours):
    earlier_at = story.at(day, 12)
    earlier, later = entries_at(story, earlier_at), entries_at(story, earlier_at + timedelta(hours=hours))
    for uid in earlier.keys() & later.keys():
        was, now_is = earlier[uid], later[uid]
        assert now_is.sequence >= was.sequence
        if now_is.sequence == was.sequence:
            assert now_is == was


@given(stories(), st.integers(1, 14))
def test_what_is_not_cancelled_is_the_plan_and_nothing_else(story, day):
    now = story.at(day, 21)
    made = entries_at(story, now, Horizon(back_days=60, ahead_days=60)).values()
    open_periods = {
        period.on_at
        for each in PLANS.replay(story, now)
        for period in each.open_periods
        if each.instruction is not WearInstruction.LEAVE_ON_AS_ORDERED
    }
    wear = {each.content.starts_at for each in made if each.content.kind is EntryKind.WEAR and not each.cancelled}
    assert wear == open_periods


@given(stories(), st.integers(1, 14))
def test_what_is_not_issued_yet_is_provisional(story, day):
    now = story.at(day, 21)
    basis = {each.on: each.basis for each in PLANS.replay(story, now)}
    made = [each for each in entries_at(story, now).values() if not each.cancelled]
    assert all(each.content.provisional == (basis[each.on] is Basis.PROJECTED) for each in made)
