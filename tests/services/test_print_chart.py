from __future__ import annotations

import re

import pytest

from followup.core.printed_sheet import Care, Standing
from followup.errors import InvalidInput, UnknownId
from followup.services.links import make_link, open_link, page_address
from followup.services.print_chart import gather_chart, gather_chart_behind, gather_round, orthoses_with
from followup.services.see_wearers import see_wearer
from followup.storage import people
from followup.storage.tables import page_link
from followup.words.chart import print_chart
from followup.words.round_sheet import print_round_sheet
from tests.builders import ALDO, BRANKA, Clinic, day
from tests.paper import words_on

CARLA = {**ALDO, "wearer_reference": "W3", "wearer_name": "Anna Tal", "identifier": "Q-3"}


def chart_of(clinic: Clinic, orthosis_id: int, **facts):
    return gather_chart(clinic.practice, orthosis_id, clinic.now, **facts).facts


def test_the_week_begins_today_and_has_the_days_of_the_plan(clinic: Clinic):
    orthosis_id = clinic.start()
    facts = chart_of(clinic, orthosis_id)
    planned = see_wearer(clinic.practice, orthosis_id, clinic.now).plan
    assert facts.days == planned[:7]
    assert facts.ring.phone == "01632 960114"
    assert facts.standing is Standing.WEARING


def test_another_week_can_be_chosen(clinic: Clinic):
    facts = chart_of(clinic, clinic.start(), from_on=day("2026-03-10"))
    assert [each.day for each in facts.days] == [9, 10, 11, 12, 13, 14, 15]


@pytest.mark.parametrize(("from_on", "code"), [("2026-01-05", "before_the_plan"), ("2026-08-03", "too_far_ahead")])
def test_a_week_the_plan_does_not_hold_is_refused(clinic: Clinic, from_on, code):
    orthosis_id = clinic.start()
    with pytest.raises(InvalidInput) as refused:
        chart_of(clinic, orthosis_id, from_on=day(from_on))
    assert refused.value.code == code


def test_an_orthosis_that_is_not_there_is_refused(clinic: Clinic):
    with pytest.raises(UnknownId):
        chart_of(clinic, 99)


def test_no_name_is_printed_and_initials_only_when_asked_for(clinic: Clinic):
    orthosis_id = clinic.start()
    plain = words_on(print_chart(chart_of(clinic, orthosis_id), "en"))
    named = words_on(print_chart(chart_of(clinic, orthosis_id, initials=True), "en"))
    assert not re.search(r"Aldo|Torvenn|Maj|A\. T\.|W1|diabet|Q-1", plain)
    assert "A. T." in named
    assert not re.search(r"Aldo|Torvenn", named)


def test_before_the_checks_are_done_there_are_no_times(clinic: Clinic):
    facts = chart_of(clinic, clinic.deliver())
    assert (facts.standing, facts.days) == (Standing.NOT_STARTED, ())


def test_after_a_sore_the_page_says_off_and_has_no_times(clinic: Clinic):
    orthosis_id = clinic.start()
    clinic.at("2026-03-02 12:00")
    clinic.report(orthosis_id, clinic.practice.replies[3])
    facts = chart_of(clinic, orthosis_id)
    assert facts.standing is Standing.OFF
    assert re.findall(r"(?<![\d.])\d+:\d\d\b", words_on(print_chart(facts, "en"))) == ["12:00"]


def test_after_a_sore_a_protective_orthosis_is_left_on_as_ordered(clinic: Clinic):
    orthosis_id = clinic.start(BRANKA)
    clinic.at("2026-03-02 12:00")
    clinic.report(orthosis_id, clinic.practice.replies[3])
    facts = chart_of(clinic, orthosis_id)
    printed = words_on(print_chart(facts, "en"))
    assert facts.standing is Standing.LEAVE_ON
    assert "Leave it on as ordered" in printed
    assert "take it off" not in printed


def test_an_emergency_is_printed_above_all_else(clinic: Clinic):
    orthosis_id = clinic.start()
    clinic.report(orthosis_id, {"chest_pain": True})
    facts = chart_of(clinic, orthosis_id)
    assert facts.care is Care.EMERGENCY


def test_the_square_leads_to_a_link_that_is_in_force_and_none_is_made(clinic: Clinic):
    orthosis_id = clinic.start()
    contact = see_wearer(clinic.practice, orthosis_id, clinic.now).facts.contacts[0]
    made = page_address(clinic.practice, make_link(clinic.practice, contact.id, orthosis_id, clinic.now))
    before = clinic.rows(page_link.select())
    assert chart_of(clinic, orthosis_id).address == made
    with clinic.practice.store.write() as connection:
        people.revoke_links(connection, orthosis_id, clinic.now)
    assert chart_of(clinic, orthosis_id).address == ""
    assert len(clinic.rows(page_link.select())) == len(before)


def test_a_family_gets_its_own_page_on_its_chart_and_who_may_not_be_told_gets_none(clinic: Clinic):
    second = {key.replace("1_", "2_"): value for key, value in ALDO.items() if key.startswith("contact1_")}
    second |= {"contact2_name": "Nils", "contact2_address": "nils@phones.example", "contact2_on_duty": "no"}
    orthosis_id = clinic.start({**ALDO, **second, "contact2_may_be_told": "no"})
    links = [
        open_link(clinic.practice, make_link(clinic.practice, each.id, orthosis_id, clinic.now), clinic.now)
        for each in see_wearer(clinic.practice, orthosis_id, clinic.now).facts.contacts
    ]
    told, untold = (gather_chart_behind(clinic.practice, link, clinic.now) for link in links)
    assert told is not None
    assert told.facts.address == page_address(clinic.practice, links[0].token)
    assert untold is None


def test_a_round_holds_everyone_an_address_or_a_phone_is_on_duty_for(clinic: Clinic):
    aldo, branka, anna = clinic.start(), clinic.start(BRANKA), clinic.start(CARLA)
    assert orthoses_with(clinic.practice, " MAJ@phones.example") == (aldo, anna)
    assert orthoses_with(clinic.practice, "ivo@phones.example") == (branka,)
    assert orthoses_with(clinic.practice, "01632960157") == (aldo, branka, anna)


@pytest.mark.parametrize("contact", ["", "  ", "nobody@phones.example", "%"])
def test_an_address_nobody_gave_is_refused(clinic: Clinic, contact):
    clinic.start()
    with pytest.raises(UnknownId):
        orthoses_with(clinic.practice, contact)


def test_two_wearers_with_the_same_initials_are_told_apart_by_reference(clinic: Clinic):
    ids = [clinic.start(), clinic.start(BRANKA), clinic.start(CARLA)]
    facts = gather_round(clinic.practice, [*ids, ids[0]], day("2026-03-03"), clinic.now)
    assert [line.leg.initials for line in facts.lines] == ["A. T. W1", "B. O.", "A. T. W3"]
    printed = words_on(print_round_sheet(facts, "en"))
    assert not re.search(r"Aldo|Torvenn|Branka|Oost|Anna|Maj|Ivo", printed)


@pytest.mark.parametrize("ids", [[], list(range(1, 62))])
def test_a_round_of_nobody_or_of_too_many_is_refused(clinic: Clinic, ids):
    with pytest.raises(InvalidInput):
        gather_round(clinic.practice, ids, day("2026-03-03"), clinic.now)
