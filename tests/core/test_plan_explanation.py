"""Why a day is what it is: the event that decided it, the source of the default, and what would raise the next day."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from followup.clinical.load_protocols import find_protocol
from followup.clinical.load_sources import load_sources
from followup.core.plan_event import PlanEvent
from followup.core.plan_explanation import DayExplanation, RaisedBy, explain
from followup.core.plan_reason import ReasonCode
from followup.core.precaution import Precaution, WithoutOrthosis
from followup.core.reason_basis import BASES
from followup.core.skin_check import Verdict
from followup.core.wear_plan import Assume, PlanFacts
from tests.structure.source_tree import ROOT
from tests.wearing import ASHA, Wearer

PLANS = (ROOT / "docs/plans.md").read_text()
DEFAULTS = PLANS.split("## Defaults")[1].split("\n## ")[0]
INSENSATE = Wearer(precautions=("reduced_sensation",))
CANNOT_REPORT = Wearer(precautions=("cannot_report",))


def facts(wearer: Wearer, events: list[PlanEvent]) -> PlanFacts:
    present = frozenset(map(Precaution, wearer.precautions))
    protocol, without = find_protocol(wearer.protocol), WithoutOrthosis(wearer.without)
    return PlanFacts(protocol, wearer.goal, present, without, wearer.delivered_on, events)


def explained(
    events: list[PlanEvent], days: int, wearer: Wearer = ASHA, assume: Assume = Assume.CLEAR
) -> tuple[DayExplanation, ...]:
    return explain(facts(wearer, events), wearer.at(days, "23:59"), days, assume)


def row(start: str) -> str:
    (found,) = [line for line in DEFAULTS.splitlines() if line.startswith(f"| {start}")]
    return found.rsplit("|", 2)[1]


STORIES = [
    ("a clear check of the last worn step", ASHA, ASHA.check(1), "clear_check"),
    ("a mark that outlasts the limit", ASHA, ASHA.check(1, "mark", mark_minutes=41), "mark_outlasted"),
    ("a mark that outlasts the limit", ASHA, ASHA.check(1, "sore"), "sore_skin"),
    ("a mark that outlasts the limit", ASHA, ASHA.check(1, broken=True), "broken_skin"),
    ("a mark that outlasts the limit", ASHA, ASHA.triage(1, "off_until_we_speak"), "report_off"),
    ("a mark that faded within", ASHA, ASHA.check(1, "mark", mark_minutes=10), "mark_faded"),
    ("a mark nobody timed", ASHA, ASHA.check(1, "mark"), "mark_not_timed"),
    ("a mark nobody timed", ASHA, ASHA.check(1, "cannot_say"), "could_not_say"),
    ("discomfort with clear skin", ASHA, ASHA.check(1, discomfort=True), "discomfort"),
    ('"clear" although a mark', ASHA, ASHA.check(1, at="09:35", mark_minutes=5), "checked_too_early"),
    ('"clear" before 80 %', ASHA, ASHA.check(1, at="09:10"), "checked_before_end"),
    ("`reduced_sensation`", INSENSATE, INSENSATE.check(1), "touch_needed"),
    ("less than 80 %", ASHA, ASHA.check(1, worn_minutes=10), "worn_too_little"),
    ("`cannot_report`", CANNOT_REPORT, CANNOT_REPORT.check(1), "cannot_report"),
]


@pytest.mark.parametrize(("start", "wearer", "event", "code"), STORIES, ids=lambda each: str(each)[:30])
def test_the_deciding_event_and_the_source_of_its_default_are_named(
    start: str, wearer: Wearer, event: PlanEvent, code: str
) -> None:
    day = explained([event], 2, wearer)[1]
    assert (day.day.reasons[0].code, [each.event for each in day.heard]) == (code, [event])
    assert same_source(row(start), day)


def same_source(documented: str, day: DayExplanation) -> bool:
    """True where the table of docs/plans.md gives the default the source that the explanation gives it."""
    basis = day.bases[0]
    if basis.by_protocol:
        return documented.strip() == "the protocol"
    keys = {"S01–S03": ("S01", "S02", "S03"), "Black 2013": ("black_2013",)}
    written = {key for words, named in keys.items() if words in documented for key in named}
    written |= set(re.findall(r"S\d\d", documented))
    settled = documented.strip() in basis.settled if not basis.sources else True
    return written == set(basis.sources) and settled


@pytest.mark.parametrize("code", ReasonCode)
def test_every_reason_says_what_it_rests_on(code: ReasonCode) -> None:
    basis = BASES[code]
    assert basis.sources or basis.settled or basis.by_protocol
    assert set(basis.sources) <= set(load_sources())


def test_a_missed_check_heard_nothing_and_is_common_practice() -> None:
    second = explained([], 2)[1]
    assert (second.heard, second.day.reasons[0].code) == ((), "missed_check")
    assert "common practice" in second.bases[0].settled
    assert "common practice" in row("first missed check")


def test_silence_names_the_source_of_who_is_watched() -> None:
    """Black 2013 for whom; the number is common practice."""
    third = explained([], 3)[2]
    assert (third.day.reasons[0].code, third.bases[0].sources) == ("silent_off", ("black_2013",))
    assert "Black 2013" in row("second missed check")


def test_who_is_phoned_instead_is_derived() -> None:
    kept = explained([], 3, Wearer(without="with_help"))[2]
    assert (kept.day.reasons[0].code, kept.bases[0].settled) == ("silent_phoned", row("the same for").strip())


def test_a_check_is_heard_as_it_was_judged() -> None:
    too_early, counted = INSENSATE.check(1, at="09:40", by_touch=True), INSENSATE.check(1, at="10:30", by_touch=True)
    heard = explained([too_early, counted], 2, INSENSATE)[1].heard
    assert [(each.event, each.judgement and each.judgement.verdict) for each in heard] == [
        (too_early, Verdict.UNSETTLED),
        (counted, Verdict.CLEAR),
    ]


def test_what_was_recorded_late_belongs_to_the_day_it_could_still_move() -> None:
    late = ASHA.check(1, told=ASHA.at(3, "12:00"))
    days = explained([late, ASHA.check(2)], 4)
    assert [[each.event.data.plan_on for each in day.heard] for day in days] == [[], [], [ASHA.on(2)], [ASHA.on(1)]]


def test_tomorrow_is_what_the_plan_gives_after_a_clear_check() -> None:
    """S01: 30, 60, 60 to 120, 120, 180."""
    events = ASHA.clear(1, 2, 3, 4)
    given = [day.target_minutes for day in ASHA.plan(events, 5)]
    assert [day.tomorrow.to_minutes for day in explained(events, 4)] == given[1:]


def test_tomorrow_asks_for_what_a_check_must_have_to_count() -> None:
    """S13, S15: by touch too, at the last removal plus the limit; 80 % is common practice."""
    tomorrow = explained([], 1, INSENSATE)[0].tomorrow
    assert (tomorrow.by, tomorrow.by_touch, tomorrow.worn_minutes) == (RaisedBy.CLEAR_CHECK, True, 24)
    assert tomorrow.looked_from == INSENSATE.at(1, "10:00")


@pytest.mark.parametrize(
    ("wearer", "events", "why"),
    [
        (CANNOT_REPORT, CANNOT_REPORT.clear(1, 2), "cannot_report"),
        (ASHA, [ASHA.check(1, "sore")], "sore_skin"),
        (ASHA, [ASHA.check(1, discomfort=True), ASHA.check(2, discomfort=True)], "discomfort_again"),
        (Wearer(precautions=("protective",)), [ASHA.check(1, "sore")], "sore_skin"),
    ],
)
def test_where_a_clear_check_would_not_do_a_clinician_is_named(
    wearer: Wearer, events: list[PlanEvent], why: str
) -> None:
    tomorrow = explained(events, 3, wearer)[2].tomorrow
    assert (tomorrow.by, tomorrow.why_not and tomorrow.why_not.code) == (RaisedBy.CLINICIAN, why)


def test_at_full_wear_nothing_is_raised() -> None:
    at_once = replace(ASHA, full_wear=30)
    assert explained([], 2, at_once)[1].tomorrow.by is RaisedBy.NOTHING


def test_days_to_come_say_that_a_clear_check_is_assumed() -> None:
    first, second = explain(facts(ASHA, []), ASHA.at(1, "12:00"), 2)
    assert (first.assumed, second.assumed, second.tomorrow.to_minutes) == (False, True, 60)


def test_a_day_with_less_than_its_step_is_marked() -> None:
    off = explained([ASHA.check(1, "sore")], 2)
    assert [(day.step_minutes, day.is_less_than_its_step) for day in off] == [(30, False), (30, True)]


def test_the_terms_name_the_cautions_of_the_day() -> None:
    rules = {rule.id: rule.source_key for rule in explained([], 1, CANNOT_REPORT)[0].terms.rules}
    assert rules["no_self_advance_cannot_report"] == "black_2013"


@pytest.mark.parametrize("assume", Assume)
def test_the_days_explained_are_those_of_the_plan(assume: Assume) -> None:
    events = [*INSENSATE.clear(1, 2), INSENSATE.check(3, "mark"), INSENSATE.triage(4, "shorter_time")]
    days = explain(facts(INSENSATE, events), INSENSATE.at(5, "23:59"), 12, assume)
    assert [each.day for each in days] == list(INSENSATE.plan(events, 12, INSENSATE.at(5, "23:59"), assume.value))
