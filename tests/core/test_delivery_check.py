from __future__ import annotations

from itertools import combinations

import pytest

from followup.core.delivery_check import LABELS, NEEDS_RELEASE, CheckAnswer, DeliveryCheck, Outcome, what_blocks

ALL = [CheckAnswer(each, Outcome.CONFIRMED) for each in DeliveryCheck]


def but(*others: CheckAnswer) -> list[CheckAnswer]:
    changed = {each.check for each in others}
    return [*(each for each in ALL if each.check not in changed), *others]


def exception(check: DeliveryCheck, released: bool = False) -> CheckAnswer:
    return CheckAnswer(check, Outcome.EXCEPTION, "ordered for Friday", released)


def test_all_confirmed_blocks_nothing() -> None:
    assert what_blocks(ALL) == ()


def test_nothing_recorded_blocks_with_every_check() -> None:
    assert what_blocks([]) == tuple(DeliveryCheck)


@pytest.mark.parametrize("check", DeliveryCheck)
def test_a_check_not_recorded_blocks(check: DeliveryCheck) -> None:
    assert what_blocks([each for each in ALL if each.check is not check]) == (check,)


@pytest.mark.parametrize("check", DeliveryCheck)
def test_an_exception_blocks_only_where_it_needs_a_release(check: DeliveryCheck) -> None:
    assert what_blocks(but(exception(check))) == ((check,) if check in NEEDS_RELEASE else ())


@pytest.mark.parametrize("pair", list(combinations(sorted(NEEDS_RELEASE), 2)))
def test_releasing_one_leaves_the_other(pair: tuple[DeliveryCheck, DeliveryCheck]) -> None:
    first, second = pair
    assert what_blocks(but(exception(first, released=True), exception(second))) == (second,)


def test_bare_plate_toes_and_ankle_bones_need_a_release() -> None:
    assert {DeliveryCheck.INSOLE, DeliveryCheck.TOES, DeliveryCheck.ANKLE_BONES} == NEEDS_RELEASE


def test_every_check_has_its_words() -> None:
    assert set(LABELS) == set(DeliveryCheck)
