from __future__ import annotations

from dataclasses import replace

import pytest

from followup.core.orthosis import (
    Construction,
    Fastening,
    Footplate,
    Heel,
    Material,
    Shell,
    Side,
    Strut,
    StrutPosition,
    WalkingAid,
    WearingCase,
    suitability_notes,
)
from followup.core.precaution import WithoutOrthosis

BUILD = Construction(
    Side.LEFT,
    Shell.FRONT,
    Strut.STIFF,
    StrutPosition.OUTER,
    Material.CARBON,
    Footplate.FULL,
    Heel.OPEN,
    Fastening.TWO_HANDS,
    "Q-1",
    "L1",
)
ALDO = WearingCase(BUILD, WalkingAid.NONE, WithoutOrthosis.WALKS, frozenset(), False, False, True)
FLEXIBLE = replace(ALDO, construction=replace(BUILD, strut=Strut.FLEXIBLE))


def note(case: WearingCase) -> str:
    (only,) = suitability_notes(case)
    return only


def test_an_ordinary_case_needs_no_note() -> None:
    assert suitability_notes(ALDO) == ()


@pytest.mark.parametrize("aid", [each for each in WalkingAid if each is not WalkingAid.NONE])
def test_a_walking_aid_asks_for_the_stiffer_strut(aid: WalkingAid) -> None:
    assert "stiffer strut" in note(replace(FLEXIBLE, walking_aid=aid))


def test_wearing_two_asks_for_the_stiffer_strut() -> None:
    assert "wears two" in note(replace(FLEXIBLE, wears_two=True))


def test_a_stiff_strut_is_what_a_cane_user_has_already() -> None:
    assert suitability_notes(replace(ALDO, walking_aid=WalkingAid.CANE)) == ()


def test_a_shin_that_bears_no_pressure_asks_for_the_shell_behind() -> None:
    assert "shell behind" in note(replace(ALDO, shin_bears_pressure=False))


def test_with_the_shell_behind_the_shin_does_not_matter() -> None:
    behind = replace(ALDO, construction=replace(BUILD, shell=Shell.BEHIND), shin_bears_pressure=False)
    assert suitability_notes(behind) == ()


def test_a_strut_behind_the_ankle_may_need_one_size_more() -> None:
    said = note(replace(ALDO, construction=replace(BUILD, strut_position=StrutPosition.BEHIND)))
    assert "one size more" in said
    assert "ankle bones" in said


def test_one_hand_needs_a_fastening_for_one_hand() -> None:
    assert "one hand" in note(replace(ALDO, one_handed=True))


def test_every_note_is_given_that_applies() -> None:
    build = replace(BUILD, strut=Strut.FLEXIBLE, strut_position=StrutPosition.BEHIND)
    case = replace(ALDO, construction=build, wears_two=True, one_handed=True, shin_bears_pressure=False)
    assert len(suitability_notes(case)) == 4
