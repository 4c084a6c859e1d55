"""The round sheet of a home or a school, read back by other libraries than the one that sets it."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from followup.core.printed_sheet import Care, RoundFacts, RoundLine, Standing
from followup.words.round_sheet import print_round_sheet
from followup.words.typeset import Paper
from tests.paper import read, words_on
from tests.sheets import CYCLES, MONDAY, NEEDS_HELP, PROTECTED, QUILLMERE, WALKS, ZONE, at, day

TUESDAY = MONDAY + timedelta(days=1)
WALKER = RoundLine(replace(WALKS, initials="A. T."), ZONE, Standing.WEARING, day(2))
HELPED = RoundLine(replace(NEEDS_HELP, initials="B. O."), ZONE, Standing.WEARING, day(2, ["8:10-9:40"]))
PROTECTS = RoundLine(replace(PROTECTED, initials="C. D."), ZONE, Standing.WEARING, day(2))
LEFT_ON = RoundLine(replace(PROTECTED, initials="E. F."), ZONE, Standing.LEAVE_ON, day(2, ["8:11-9:41"]))
OFF = RoundLine(replace(NEEDS_HELP, initials="G. H."), ZONE, Standing.OFF, day(2, ["8:12-9:42"]))
CHILD = RoundLine(replace(WALKS, initials="I. J."), ZONE, Standing.WEARING, day(2, ["9:00-11:00"], every=30))


def a_round(*lines):
    return RoundFacts(TUESDAY, ZONE, at(MONDAY, "8:00"), QUILLMERE, lines)


def printed(*lines, language="en"):
    return words_on(print_round_sheet(a_round(*lines), language))


def test_six_wearers_fit_on_one_sheet_that_lies_on_its_side():
    made = read(print_round_sheet(a_round(WALKER, HELPED, PROTECTS, LEFT_ON, OFF, CHILD), "en"))
    assert len(made.pages) == 1
    assert made.pages[0].mediabox.width > made.pages[0].mediabox.height


@pytest.mark.parametrize("language", ["en", "es"])
def test_every_wearer_has_initials_side_times_and_looks(language):
    words = printed(WALKER, HELPED, CHILD, language=language)
    for each in ("A. T.", "B. O.", "I. J.", "8:10", "9:40", "10:10", "9:30+", "01632 960114", "112"):
        assert each in words


def test_each_wearer_has_their_own_safe_words():
    words = printed(WALKER, HELPED, PROTECTS, OFF)
    walker, helped, protects, off = (words[words.index(each) :] for each in ("A. T.", "B. O.", "C. D.", "G. H."))
    assert "sit down, then take it off" in walker[: walker.index("B. O.")]
    assert "Never stands alone without it." in helped[: helped.index("C. D.")]
    assert "leave it on as ordered, ring today" in protects[: protects.index("G. H.")]
    assert "do not put it on" in off
    assert "Never stands alone without it." in off


def test_a_round_of_protective_ones_never_says_to_take_off():
    words = printed(PROTECTS, LEFT_ON, replace(PROTECTS, standing=Standing.OFF))
    assert "take it off" not in words
    assert "Taken off" not in words


def test_no_times_are_printed_for_who_is_off_and_none_on_and_off_for_what_is_left_on():
    words = printed(OFF, LEFT_ON)
    assert not [each for each in ("8:12", "9:42", "8:11") if each in words]
    assert "9:41" in words


def test_other_care_stands_with_the_wearer_it_is_for():
    words = printed(WALKER, replace(HELPED, care=Care.EMERGENCY))
    assert words.index("B. O.") < words.index("Ring 112 now. Do not wait")


def test_a_long_round_goes_on_to_more_pages_with_its_heads_on_each():
    made = read(print_round_sheet(a_round(*[HELPED, PROTECTS, CHILD] * 6), "es", Paper.LETTER))
    assert len(made.pages) > 1
    assert all("Quién" in page.extract_text() for page in made.pages)


def test_a_wearer_who_goes_over_the_page_is_named_again():
    line = replace(HELPED, day=day(2, CYCLES))
    made = read(print_round_sheet(a_round(*[line] * 5), "en"))
    seen = [page.extract_text() for page in made.pages]
    assert all("B. O." in page for page in seen)


def test_the_sheet_is_tagged_and_the_same_twice():
    made = print_round_sheet(a_round(WALKER), "es")
    assert read(made).trailer["/Root"]["/MarkInfo"]["/Marked"]
    assert read(made).trailer["/Root"]["/Lang"] == "es"
    assert made == print_round_sheet(a_round(WALKER), "es")


def test_an_empty_round_says_so():
    assert "Nobody has times on this day." in printed()


def test_wearers_without_times_may_stand_anywhere_in_a_round():
    gone = replace(WALKER, day=None)
    for lines in ((gone,), (gone, gone, HELPED), (HELPED, gone, OFF, gone, HELPED), (OFF, LEFT_ON, gone)):
        assert printed(*lines).count("no time on this day") == lines.count(gone)
