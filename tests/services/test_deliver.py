from __future__ import annotations

from collections.abc import Callable

import pytest

from followup.core.delivery import COLUMNS
from followup.errors import InvalidInput
from followup.services.deliver import ImportSummary, import_deliveries
from followup.storage.tables import audit, consent, contact, orthosis, wearer
from tests.builders import ALDO, BRANKA, Clinic, as_csv


def take(clinic: Clinic, text: str) -> ImportSummary:
    return import_deliveries(clinic.practice, text, "program:import", clinic.now)


def everything(clinic: Clinic) -> list[object]:
    return [clinic.rows(table.select()) for table in (wearer, contact, consent, orthosis, audit)]


def test_good_rows_go_in(clinic: Clinic) -> None:
    assert take(clinic, as_csv(ALDO, BRANKA)) == ImportSummary(2, 0, 0, ())
    assert [each["name"] for each in clinic.rows(wearer.select())] == ["Aldo Torvenn", "Branka Oost"]


def test_a_bad_row_is_reported_and_the_good_one_goes_in(clinic: Clinic) -> None:
    found = take(clinic, as_csv({**ALDO, "zone": "Mars/Olympus"}, BRANKA))
    (fault,) = found.faults
    assert (found.new, fault.line, fault.column) == (1, 2, "zone")
    assert "write an IANA name" in fault.message


def test_every_fault_of_every_row_is_reported(clinic: Clinic) -> None:
    rows = [{**ALDO, "protocol": "s99", "side": "middle"}, {**BRANKA, "contact1_address": "ivo"}]
    found = [(each.line, each.column) for each in take(clinic, as_csv(*rows)).faults]
    assert sorted(found) == [(2, "protocol"), (2, "side"), (3, "contact1_address")]


def test_the_same_file_twice_changes_nothing(clinic: Clinic) -> None:
    text = as_csv(ALDO, BRANKA)
    take(clinic, text)
    before = everything(clinic)
    assert take(clinic, text) == ImportSummary(0, 2, 0, ())
    assert everything(clinic) == before


def test_a_bad_row_alone_changes_nothing(clinic: Clinic) -> None:
    take(clinic, as_csv({**ALDO, "delivered_on": "yesterday"}))
    assert everything(clinic) == [[], [], [], [], []]


def test_a_corrected_row_brings_the_record_up_to_date(clinic: Clinic) -> None:
    take(clinic, as_csv(ALDO))
    assert take(clinic, as_csv({**ALDO, "lot": "L2"})).changed == 1
    assert [each["lot"] for each in clinic.rows(orthosis.select())] == ["L2"]


def test_a_row_cannot_change_what_a_running_plan_is_made_of(clinic: Clinic) -> None:
    clinic.start()
    (fault,) = take(clinic, as_csv({**ALDO, "protocol": "s04"})).faults
    assert "its plan has started" in fault.message


def test_a_second_orthosis_of_the_same_wearer_keeps_one_wearer(clinic: Clinic) -> None:
    take(clinic, as_csv(ALDO, {**ALDO, "identifier": "Q-7", "side": "right"}))
    assert (len(clinic.rows(wearer.select())), len(clinic.rows(orthosis.select()))) == (1, 2)


def test_consent_is_recorded_once_with_its_time(clinic: Clinic) -> None:
    take(clinic, as_csv(ALDO))
    (word,) = clinic.rows(consent.select())
    assert (word["given"], word["at"]) == (True, clinic.now)


def test_a_byte_order_mark_and_blank_lines_do_no_harm(clinic: Clinic) -> None:
    assert take(clinic, "\ufeff" + as_csv(ALDO) + "\n,,,\n").new == 1


@pytest.mark.parametrize(
    ("text", "code", "path"),
    [
        ("", "missing_columns", "line 1"),
        ("name;address\nAldo;x", "missing_columns", "line 1"),
        (",".join(COLUMNS) + '\n"open quote,', "bad_csv", "line 2"),
    ],
)
def test_a_file_that_is_no_such_csv_is_refused_whole(clinic: Clinic, text: str, code: str, path: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        take(clinic, text)
    assert (refused.value.code, refused.value.path) == (code, path)


def test_a_row_with_too_many_cells_is_reported(clinic: Clinic) -> None:
    text = as_csv(ALDO).rstrip("\r\n") + ",surplus\r\n"
    assert [each.line for each in take(clinic, text).faults] == [2]


def test_a_delivery_starts_no_plan_by_itself(clinic: Clinic) -> None:
    clinic.deliver()
    assert clinic.rows(orthosis.select())[0]["started_at"] is None


def columns(summary: ImportSummary) -> list[str]:
    return [each.column for each in summary.faults]


RIGHT = {**ALDO, "identifier": "Q-7", "side": "right"}


def test_a_second_orthosis_is_taken_in_beside_a_running_plan(clinic: Clinic) -> None:
    clinic.start()
    assert take(clinic, as_csv(RIGHT)).new == 1


@pytest.mark.parametrize(
    ("column", "value"),
    [("walking_aid", "cane"), ("without_orthosis", "with_help"), ("wearer_name", "Bea Oost")],
)
def test_a_second_orthosis_cannot_change_what_a_running_plan_is_made_of(
    clinic: Clinic, column: str, value: str
) -> None:
    clinic.start()
    before = everything(clinic)
    assert take(clinic, as_csv({**RIGHT, column: value})).faults
    assert everything(clinic) == before


@pytest.mark.parametrize("first", [Clinic.start, Clinic.deliver])
def test_of_two_orthoses_each_says_by_itself_whether_it_protects(clinic: Clinic, first: Callable[..., int]) -> None:
    first(clinic, BRANKA)
    assert take(clinic, as_csv({**BRANKA, "identifier": "Q-8", "side": "right", "protective": "no"})).new == 1
    assert [each["protective"] for each in clinic.rows(orthosis.select())] == [True, False]


def test_what_the_newer_columns_say_is_kept(clinic: Clinic) -> None:
    newer = {"fixed_points": "school on Mon-Fri 08:30-15:00", "activity": "on_and_off", "checker": "the school nurse"}
    take(clinic, as_csv({**ALDO, **newer}))
    (row,) = clinic.rows(orthosis.select())
    assert (row["fixed_points"][0]["name"], row["activity"], row["checker"]) == (
        "school",
        "on_and_off",
        "the school nurse",
    )


def test_a_file_taken_in_before_the_newer_columns_is_still_the_same_file(clinic: Clinic) -> None:
    taken_then = "bc211b0151c92a6f2f202fd858bc15a075725e6ac3dc2341a1280221e2b8c1d5"
    clinic.start()
    assert [each["row_digest"] for each in clinic.rows(orthosis.select())] == [taken_then]


REPLACEMENT = {**ALDO, "identifier": "Q-9", "replaces": "Q-1"}


def test_an_orthosis_may_replace_an_earlier_one(clinic: Clinic) -> None:
    assert take(clinic, as_csv({**ALDO, "replaces": ""}, REPLACEMENT)).new == 2
    assert [each["replaces"] for each in clinic.rows(orthosis.select())] == [None, "Q-1"]


@pytest.mark.parametrize("changed", [{"replaces": "Q-0"}, {"replaces": "Q-9"}, {"side": "right"}])
def test_what_is_replaced_must_be_an_earlier_one_on_the_same_leg(clinic: Clinic, changed: dict[str, str]) -> None:
    clinic.deliver()
    assert columns(take(clinic, as_csv({**REPLACEMENT, **changed}))) == ["replaces"]


def test_a_new_precaution_does_not_change_a_running_plan_unseen(clinic: Clinic) -> None:
    clinic.start()
    absent = RIGHT["precautions_absent"].replace("cannot_report;", "")
    found = take(clinic, as_csv({**RIGHT, "precautions_present": "cannot_report", "precautions_absent": absent}))
    assert columns(found) == ["precautions_present"]


def test_one_reference_for_two_wearers_is_a_fault(clinic: Clinic) -> None:
    found = take(clinic, as_csv(ALDO, {**BRANKA, "wearer_reference": "W1"}))
    assert (found.new, columns(found)) == (1, ["wearer_reference"])


def test_one_identifier_for_two_wearers_is_a_fault(clinic: Clinic) -> None:
    found = take(clinic, as_csv(ALDO, {**BRANKA, "identifier": "Q-1"}))
    assert (found.new, columns(found)) == (1, ["identifier"])


def test_a_corrected_address_is_the_only_one_that_hears(clinic: Clinic) -> None:
    clinic.deliver({**ALDO, "contact1_address": "mja@strangers.example"})
    clinic.start()
    clinic.tick()
    assert [each.recipient for each in clinic.server.tried] == ["maj@phones.example"]


def test_who_a_corrected_row_no_longer_names_may_report_and_is_told_nothing(clinic: Clinic) -> None:
    clinic.deliver({**ALDO, "contact1_name": "Ex Torvenn"})
    clinic.deliver()
    assert [(each["on_duty"], each["may_be_told"]) for each in clinic.rows(contact.select())] == [
        (False, False),
        (True, True),
    ]
