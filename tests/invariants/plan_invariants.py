"""What must always hold for a wear plan, each as a function that raises ``AssertionError`` where it does not.

They read events and issued days only; nothing here asks the code under test what it thinks.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import cycle, pairwise
from typing import Any

from tests.invariants.plan_stories import Plans, Story

# Upper ends of the published ranges, step by step: S01 Rotherham, S04 North Tees and Hartlepool, S13 South Tees.
UPPER_ENDS = {
    "s01": [30, 60, 120, 120, 180, *range(240, 1441, 60)],
    "s04": [*range(30, 1441, 15)],
    "s13": [*[30] * 7, *range(60, 1441, 30)],
}
WATCHED = {"reduced_sensation", "cannot_report", "child"}


def never_above_the_published_upper_end(plans: Plans, story: Story) -> None:
    """A day has at most the published minutes of its step; unless a clinician says so, day n is at most step n."""
    upper = UPPER_ENDS[story.protocol]
    spoken = any(each["type"] == "plan_instruction" for each in story.events)
    for day in plans.replay(story):
        assert day.target_minutes <= min(upper[day.step - 1], story.full_wear)
        assert spoken or day.step <= day.day


def periods_are_the_target(plans: Plans, story: Story) -> None:
    """Periods add up to the target, never overlap, not even over midnight, and last as long as they say."""
    ended: datetime | None = None
    for day in plans.replay(story):
        assert sum(period.minutes for period in day.periods) == day.target_minutes
        for period in day.periods:
            assert ended is None or period.on_at >= ended
            assert period.off_at - period.on_at == timedelta(minutes=period.minutes)
            ended = period.off_at


def raised_only_after_a_clear_check(plans: Plans, story: Story) -> None:
    """More time than the day before needs a clear check of that day, told before the issue, or a clinician's word."""
    days = plans.replay(story)
    for before, day in pairwise(days):
        if day.target_minutes > before.target_minutes and not any(_words(story, day)):
            assert "cannot_report" not in story.precautions
            assert before.target_minutes > 0
            told = list(_checks(story, before, day.issued_at))
            assert any(_earns(story, before, each) for each in told)
            assert not any(_forbids(each["data"]) for each in told)


def nothing_after_a_stopping_finding(plans: Plans, story: Story) -> None:
    """After a stopping finding no day has time, and no period may begin, until a clinician's later word."""
    if "protective" in story.precautions:
        return
    days = plans.replay(story)
    for event in filter(lambda each: _is_stopping(story, each), story.events):
        told = datetime.fromisoformat(event["recorded_at"])
        for day in days:
            if day.issued_at > told and not any(_words(story, day, since=told)):
                assert day.target_minutes == 0
                assert day.state == "off"
        current = [day for day in days if day.issued_at <= told]
        assert not any(period.on_at >= told for day in current[-1:] for period in day.open_periods)


def protective_is_never_reduced(plans: Plans, story: Story) -> None:
    """Without a clinician's word a protective orthosis is never worn less than the day before, nor told to come off."""
    days = plans.replay(_without_words(replace(story, precautions=("protective",))))
    targets = [day.target_minutes for day in days]
    assert targets == sorted(targets)
    assert not {day.instruction for day in days} & {"off_until_we_speak", "shorter_time"}
    assert all(day.stopped_at is None for day in days)


def issued_days_stay_as_issued(plans: Plans, story: Story) -> None:
    """What was issued by some instant is the same however much is recorded later; a stop may be noted, once."""
    full = plans.replay(story)
    for number in range(2, story.days, 3):
        then = story.at(number, 12)
        issued = [day for day in plans.replay(story, then) if day.issued_at <= then]
        for old, new in zip(issued, full, strict=False):
            assert old._replace(stopped_at=None) == new._replace(stopped_at=None)
            assert old.stopped_at is None or old.stopped_at == new.stopped_at


def worse_checks_never_give_more(plans: Plans, story: Story) -> None:
    """Any one check made worse gives no day more time. (A clinician would answer it with another word: none here.)"""
    story = _without_words(story)
    better = [day.target_minutes for day in plans.replay(story)]
    for worse_story in _made_worse(story):
        worse = [day.target_minutes for day in plans.replay(worse_story)]
        assert all(less <= more for less, more in zip(worse, better, strict=True))


def silence_never_raises(plans: Plans, story: Story) -> None:
    """With no check at all: never more than day 1, and no time after the allowed days except for those phoned."""
    quiet = replace(story, events=(), full_wear=480, window=Story.window)
    phoned = "protective" in story.precautions or story.without != "walks"
    allowed = 1 if WATCHED & set(story.precautions) else 2
    days = plans.replay(quiet)
    assert {day.target_minutes for day in days[: None if phoned else allowed]} == {30}
    assert phoned or not any(day.target_minutes for day in days[allowed:])


def order_of_the_file_does_not_matter(plans: Plans, story: Story) -> None:
    """The same facts give the same days in whatever order, and however often, they are stated."""
    backwards = replace(story, events=(*reversed(story.events), *story.events[:2]))
    assert plans.replay(backwards) == plans.replay(story)


def _words(story: Story, day: Any, since: datetime | None = None) -> Iterator[dict[str, Any]]:
    """Instructions told before the day was issued, that hold by then and are not "off"."""
    for event in story.events:
        if event["type"] == "plan_instruction" and event["data"]["action"] != "off":
            told = datetime.fromisoformat(event["recorded_at"])
            in_time = told < day.issued_at and (since is None or told >= since)
            if in_time and event["data"]["from_on"] <= day.on.isoformat():
                yield event["data"]


def _checks(story: Story, day: Any, by: datetime) -> Iterator[dict[str, Any]]:
    for event in story.events:
        told = datetime.fromisoformat(event["recorded_at"])
        if event["type"] == "skin_check" and event["data"]["plan_on"] == day.on.isoformat() and told < by:
            yield event


def _earns(story: Story, day: Any, event: dict[str, Any]) -> bool:
    data, looked = event["data"], datetime.fromisoformat(event["occurred_at"])
    insensate = "reduced_sensation" in story.precautions
    good = data["result"] == "clear" and not data.get("broken") and not data.get("discomfort")
    worn = data.get("worn_minutes", day.target_minutes) >= 0.8 * day.target_minutes
    second_look = looked >= day.periods[-1].off_at + timedelta(minutes=_limit(story))
    late = second_look or not (insensate or data.get("mark_minutes"))
    return bool(good and worn and late and (data.get("by_touch") or not insensate))


def _forbids(data: dict[str, Any]) -> bool:
    faded = data["result"] == "mark" and data.get("mark_minutes") is not None
    return bool(faded or data.get("discomfort") or data.get("broken") or data["result"] == "sore")


def _is_stopping(story: Story, event: dict[str, Any]) -> bool:
    data = event["data"]
    if event["type"] == "triage_result":
        return bool(data["instruction"] == "off_until_we_speak")
    if event["type"] != "skin_check":
        return False
    return bool(data["result"] == "sore" or data.get("broken") or data.get("mark_minutes", 0) > _limit(story))


def _limit(story: Story) -> int:
    published = {"s01": 40, "s04": 20, "s13": 20}[story.protocol]
    careful = {"reduced_sensation", "diabetes"} & set(story.precautions)
    return min(published, 30) if careful else published


def _without_words(story: Story) -> Story:
    return replace(story, events=tuple(each for each in story.events if each["type"] != "plan_instruction"))


def _made_worse(story: Story) -> Iterator[Story]:
    changes = cycle(({"result": "cannot_say"}, {"result": "mark", "mark_minutes": 15}, {"result": "sore"}))
    for index, event in enumerate(story.events):
        if event["type"] == "skin_check" and event["data"]["result"] == "clear":
            worse = {**event, "data": {**event["data"], **next(changes)}}
            yield replace(story, events=(*story.events[:index], worse, *story.events[index + 1 :]))
