from __future__ import annotations

from pathlib import Path

import pytest

from followup.channels.mail_gateway import Gateways, load_gateways
from followup.errors import InvalidInput
from tests.builders import day

TEXTS = Gateways({"texts.example": day("2027-03-31")}, "texts.example")
TODAY = day("2026-03-02")


def loaded(path: Path, text: str) -> Gateways:
    file = path / "gateways.toml"
    file.write_text(text)
    return load_gateways(str(file))


def test_a_number_goes_to_the_usual_gateway() -> None:
    assert TEXTS.address_of("+44 1632 960157", TODAY) == "441632960157@texts.example"


def test_a_gateway_address_is_taken_as_it_is() -> None:
    assert TEXTS.address_of("960157@Texts.example", TODAY) == "960157@Texts.example"


def test_without_a_file_texts_are_off() -> None:
    with pytest.raises(InvalidInput) as refused:
        load_gateways("").address_of("01632 960157", TODAY)
    assert refused.value.code == "no_gateway"


def test_a_gateway_is_used_on_its_last_day_and_not_after() -> None:
    assert TEXTS.address_of("1", day("2027-03-31"))
    with pytest.raises(InvalidInput) as refused:
        TEXTS.address_of("1", day("2027-04-01"))
    assert refused.value.code == "gateway_ended"


def test_an_ordinary_mail_address_is_no_gateway() -> None:
    with pytest.raises(InvalidInput):
        TEXTS.address_of("maj@phones.example", TODAY)


def test_gateways_are_read_with_their_end(tmp_path: Path) -> None:
    read = loaded(tmp_path, 'default = "Texts.example"\n[[gateway]]\ndomain = "Texts.example"\nends_on = 2027-03-31\n')
    assert read == TEXTS


@pytest.mark.parametrize(
    "text",
    [
        "nonsense",
        '[[gateway]]\ndomain = "t.example"\n',
        '[[gateway]]\ndomain = "t.example"\nends_on = "soon"\n',
        "gateway = 3\n",
        '[[gateway]]\ndomain = "t.example"\nends_on = 2027-03-31T10:00:00\n',
    ],
)
def test_a_file_that_cannot_be_used_stops_the_start(tmp_path: Path, text: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        loaded(tmp_path, text)
    assert refused.value.code == "bad_gateways"


def test_a_file_that_is_not_there_stops_the_start() -> None:
    with pytest.raises(InvalidInput, match="cannot be read"):
        load_gateways("/nowhere/gateways.toml")
