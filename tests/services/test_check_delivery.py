from __future__ import annotations

from datetime import timedelta

import pytest

from followup.core.delivery_check import CheckAnswer, DeliveryCheck, Outcome
from followup.errors import InvalidInput, UnknownId
from followup.services.check_delivery import record_checks, release_check, see_checks, send_test_message
from followup.services.desk import see_desk
from followup.storage.tables import delivery_check, outbox
from tests.builders import ALDO, CHECKED, Clinic, Letters, letter

ALL_SO = {each: CheckAnswer(each, Outcome.CONFIRMED) for each in DeliveryCheck}


def bare_plate(reason: str = "insole is ordered") -> dict[DeliveryCheck, CheckAnswer]:
    insole = CheckAnswer(DeliveryCheck.INSOLE, Outcome.EXCEPTION, reason)
    return {**CHECKED, DeliveryCheck.INSOLE: insole}


def record(clinic: Clinic, answers: dict[DeliveryCheck, CheckAnswer]) -> tuple[DeliveryCheck, ...]:
    return record_checks(clinic.practice, clinic.deliver(), answers, clinic.odd.staff_id, clinic.now)


def started(clinic: Clinic) -> bool:
    return see_checks(clinic.practice, 1).started_at is not None


def test_a_plan_starts_by_itself_when_every_check_is_recorded(clinic: Clinic) -> None:
    assert record(clinic, CHECKED) == ()
    assert started(clinic)


def test_a_check_left_out_keeps_the_plan_from_starting(clinic: Clinic) -> None:
    some = {key: each for key, each in CHECKED.items() if key is not DeliveryCheck.TAUGHT_BACK}
    assert record(clinic, some) == (DeliveryCheck.TAUGHT_BACK,)
    assert not started(clinic)


def test_a_bare_plate_starts_no_plan(clinic: Clinic) -> None:
    assert record(clinic, bare_plate()) == (DeliveryCheck.INSOLE,)
    assert not started(clinic)


def test_an_exception_needs_its_reason_and_nothing_is_saved_without(clinic: Clinic) -> None:
    with pytest.raises(InvalidInput) as refused:
        record(clinic, bare_plate("  "))
    assert (refused.value.code, clinic.rows(delivery_check.select())) == ("no_reason", [])


def test_a_clinician_releases_and_the_plan_starts(clinic: Clinic) -> None:
    record(clinic, bare_plate())
    release_check(clinic.practice, 1, DeliveryCheck.INSOLE, clinic.runa, "thin sock liner in place", clinic.now)
    assert started(clinic)


def test_the_front_desk_may_not_release(clinic: Clinic) -> None:
    record(clinic, bare_plate())
    with pytest.raises(InvalidInput) as refused:
        release_check(clinic.practice, 1, DeliveryCheck.INSOLE, clinic.odd, "fine by me", clinic.now)
    assert (refused.value.code, started(clinic)) == ("not_a_clinician", False)


def test_a_release_needs_its_reason(clinic: Clinic) -> None:
    record(clinic, bare_plate())
    with pytest.raises(InvalidInput) as refused:
        release_check(clinic.practice, 1, DeliveryCheck.INSOLE, clinic.runa, "", clinic.now)
    assert refused.value.code == "no_reason"


def test_only_an_open_exception_can_be_released(clinic: Clinic) -> None:
    record(clinic, bare_plate())
    with pytest.raises(InvalidInput) as refused:
        release_check(clinic.practice, 1, DeliveryCheck.TOES, clinic.runa, "why not", clinic.now)
    assert refused.value.code == "nothing_to_release"


def test_an_orthosis_nobody_knows_is_named(clinic: Clinic) -> None:
    with pytest.raises(UnknownId):
        see_checks(clinic.practice, 99)


def test_suitability_notes_inform_and_never_block(clinic: Clinic) -> None:
    clinic.start({**ALDO, "walking_aid": "cane", "strut": "flexible"})
    view = see_checks(clinic.practice, 1)
    assert "stiffer strut" in view.notes[0]
    assert view.started_at is not None


def test_the_test_message_goes_to_who_is_on_duty(clinic: Clinic) -> None:
    clinic.deliver()
    send_test_message(clinic.practice, 1, clinic.now)
    assert [(each["kind"], each["address"]) for each in clinic.rows(outbox.select())] == [
        ("test", "maj@phones.example")
    ]


def test_a_family_no_message_reaches_is_put_on_the_call_list(clinic: Clinic) -> None:
    clinic.start({**ALDO, "contact1_channel": "phone", "contact1_address": ""})
    assert [each.kind for each in see_desk(clinic.practice, clinic.now)] == ["call_list"]


def answered(clinic: Clinic) -> str:
    return see_checks(clinic.practice, 1).sent_test.standing.value


def test_a_test_message_counts_as_answered_only_when_it_was(clinic: Clinic) -> None:
    clinic.deliver()
    seen = [answered(clinic)]
    send_test_message(clinic.practice, 1, clinic.now)
    seen.append(answered(clinic))
    clinic.tick()
    seen.append(answered(clinic))
    clinic.now += timedelta(minutes=2)
    clinic.tick(Letters({"a": letter("1")}))
    assert [*seen, answered(clinic)] == ["unsent", "on_its_way", "sent", "answered"]
    assert record(clinic, ALL_SO) == ()


def test_an_answer_nobody_gave_is_not_recorded(clinic: Clinic) -> None:
    with pytest.raises(InvalidInput) as refused:
        record(clinic, ALL_SO)
    assert (refused.value.code, refused.value.path) == ("not_answered", "test_message")
    assert clinic.rows(delivery_check.select()) == []


def test_a_reply_before_any_test_message_left_is_no_answer_to_it(clinic: Clinic) -> None:
    clinic.deliver()
    clinic.tick(Letters({"a": letter("1")}))
    assert answered(clinic) == "unsent"


def test_a_family_that_is_only_rung_has_no_test_message(clinic: Clinic) -> None:
    clinic.deliver({**ALDO, "contact1_channel": "phone", "contact1_address": ""})
    assert answered(clinic) == "nobody"
