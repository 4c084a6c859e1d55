from __future__ import annotations

import pytest

from followup.core.contact import Channel
from followup.core.delivery import COLUMNS, Delivery, DeliveryFaults, parse_delivery
from tests.builders import ALDO, day

PROTOCOLS = frozenset({"s01", "s04"})
SECOND = {key.replace("contact1", "contact2"): value for key, value in ALDO.items() if key.startswith("contact1")}
BAD = {
    **dict.fromkeys(COLUMNS, "nonsense"),
    **{column: "" for column in COLUMNS if column.endswith(("_name", "_reference", "identifier"))},
}
ANY_TEXT = {"lot", "contact1_address", "contact2_address"}
"""Columns in which no word is wrong; an address is read by its channel, so it waits until the channel is known."""


def parse(**changes: str) -> Delivery:
    return parse_delivery({**ALDO, **changes}, PROTOCOLS)


def faults(row: dict[str, str]) -> dict[str, str]:
    with pytest.raises(DeliveryFaults) as refused:
        parse_delivery(row, PROTOCOLS)
    return dict(refused.value.faults)


def test_a_whole_row_is_read() -> None:
    delivery = parse()
    assert (delivery.wearer_name, delivery.delivered_on) == ("Aldo Torvenn", day("2026-03-02"))


def test_every_bad_column_is_named_at_once() -> None:
    assert set(faults(BAD)) == set(COLUMNS) - ANY_TEXT


@pytest.mark.parametrize("column", sorted(set(COLUMNS) - ANY_TEXT))
def test_one_bad_column_is_named_alone(column: str) -> None:
    row = {**ALDO, **SECOND, "contact2_on_duty": "no", column: BAD[column]}
    assert column in faults(row)
    assert len(faults(row)) <= 2


@pytest.mark.parametrize("address", ["", "maj", "maj@", "maj@phones", "maj@@phones.example"])
def test_a_mail_address_that_is_none_is_refused(address: str) -> None:
    assert "mail address" in faults({**ALDO, "contact1_address": address})["contact1_address"]


def test_a_text_contact_may_give_a_number_or_a_gateway_address() -> None:
    number = parse(contact1_channel=Channel.TEXT, contact1_address="01632 960157")
    gateway = parse(contact1_channel=Channel.TEXT, contact1_address="01632960157@texts.example")
    assert (number.contacts[0].address, gateway.contacts[0].address) == ("01632 960157", "01632960157@texts.example")


def test_an_empty_second_contact_is_no_contact() -> None:
    assert len(parse().contacts) == 1


def test_a_half_given_second_contact_is_a_fault() -> None:
    assert "contact2_channel" in faults({**ALDO, "contact2_name": "Per"})


def test_somebody_must_be_on_duty() -> None:
    assert "somebody must be on duty" in faults({**ALDO, "contact1_on_duty": "no"})["contact1_on_duty"]


def test_a_precaution_named_both_ways_is_a_fault() -> None:
    assert "name it once" in faults({**ALDO, "precautions_present": "diabetes"})["precautions_absent"]


def test_a_precaution_not_named_is_not_recorded() -> None:
    assert "diabetes" not in parse(precautions_absent="anticoagulant").precautions


def test_protective_is_recorded_either_way() -> None:
    assert [parse(protective=said).protective for said in ("yes", "no")] == [True, False]


def test_a_file_without_the_newer_columns_is_read_as_before() -> None:
    delivery = parse()
    assert (delivery.fixed_points, delivery.activity, delivery.checker, delivery.replaces) == (
        (),
        "mostly_on_feet",
        "",
        "",
    )


@pytest.mark.parametrize(
    ("column", "value", "advice"),
    [
        ("fixed_points", "school 08:30-15:00", "write such as school on Mon-Fri"),
        ("fixed_points", "nap off 23:00-01:00", "write two points"),
        ("activity", "sits", "write one of mostly_on_feet, on_and_off"),
        ("checker", "x" * 61, "shorten it"),
        ("replaces", "x" * 61, "shorten it"),
    ],
)
def test_a_bad_newer_column_says_what_to_write(column: str, value: str, advice: str) -> None:
    assert advice in faults({**ALDO, column: value})[column]


@pytest.mark.parametrize("column", ["contact1_name", "wearer_name", "zone"])
def test_every_fault_says_what_to_do(column: str) -> None:
    said = faults({**ALDO, column: ""})[column]
    assert any(word in said for word in ("write", "must be given", "shorten"))


def test_text_around_a_cell_does_not_matter() -> None:
    assert parse(side=" left ").side == "left"


@pytest.mark.parametrize("delivered_on", ["9999-12-31", "0001-01-01"])
def test_a_year_no_plan_can_have_is_a_fault(delivered_on: str) -> None:
    assert "delivered_on" in faults({**ALDO, "delivered_on": delivered_on})


@pytest.mark.parametrize("name", ["Al\x00do", "Aldo\nBcc: x", "Aldo\u202eTorvenn"])
def test_a_control_character_in_a_name_is_a_fault(name: str) -> None:
    assert "control character" in faults({**ALDO, "wearer_name": f"{name} Torvenn"})["wearer_name"]


def test_a_mail_address_the_network_would_not_take_is_a_fault() -> None:
    assert "contact1_address" in faults({**ALDO, "contact1_address": "jürgen@phones.example"})


def test_a_domain_with_an_accent_is_kept_as_the_network_writes_it() -> None:
    taken = parse(contact1_address="maj@bücher.example")
    assert taken.contacts[0].address == "maj@xn--bcher-kva.example"
