"""Printed charts, read back by other libraries than the one that sets them."""

from __future__ import annotations

import re
import tomllib
from dataclasses import replace
from datetime import timedelta

import pytest
import segno

from followup.core.printed_sheet import Care, NumbersToRing, Standing, initials_of
from followup.core.wear_day import PlanState
from followup.errors import UnknownId
from followup.words.chart import chart_view, print_chart
from followup.words.readability import read_text
from followup.words.render import template_root
from followup.words.typeset import Paper
from tests.paper import boxes_of_words, figures, read, words_on
from tests.sheets import (
    ADDRESS,
    CYCLES,
    MONDAY,
    NEEDS_HELP,
    PROTECTED,
    QUILLMERE,
    WALKS,
    at,
    chart,
    day,
    week,
)

LANGUAGES = ("en", "es")
SMALLEST = 6.9
"""Points; common practice, no source: smaller print is not read at arm's length."""
TAKE_OFF = re.compile(r"take it off|taken off|take off|quíte|quitar|leave it off|no se lo ponga", re.IGNORECASE)
LONG_WEEKS = {
    "five periods a day": week(("8:00-9:00", "10:00-11:00", "12:00-13:00", "14:00-15:00", "16:00-17:00")),
    "turns by day and night (Gillette Children's, spine brace)": week(CYCLES),
    "looks each half hour, a child (Great Ormond Street Hospital)": week(("9:00-11:00", "15:00-17:00"), every=30),
}


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("paper", Paper)
@pytest.mark.parametrize("name", LONG_WEEKS)
def test_a_long_week_fits_one_page_with_every_time_on_it(name, paper, language):
    made = print_chart(chart(LONG_WEEKS[name], NEEDS_HELP), language, paper)
    printed = words_on(made)
    assert len(read(made).pages) == 1
    for each in days_of(chart_view(chart(LONG_WEEKS[name], NEEDS_HELP), language)):
        assert each["words"] in printed
        for row in each["rows"]:
            assert all(time in printed for time in (row["on"], row["off"], *row["looks"]))


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("paper", Paper)
@pytest.mark.parametrize("name", [*LONG_WEEKS, "usual"])
def test_no_two_words_overlap_and_none_is_cut(name, paper, language):
    made = print_chart(chart(LONG_WEEKS.get(name, week()), NEEDS_HELP), language, paper)
    width, height = (float(each) for each in read(made).pages[0].mediabox[2:])
    boxes = boxes_of_words(made)
    assert len(boxes) > 200
    assert all(0 < box.left < box.right < width and 0 < box.bottom < box.top < height for box in boxes)
    assert [*overlapping(boxes)] == []


def test_the_search_for_overlapping_words_finds_them():
    boxes = boxes_of_words(print_chart(chart(), "en"))
    moved = [replace(box, left=box.left + 2, right=box.right + 2) for box in boxes]
    assert len([*overlapping([*boxes, *moved])]) > len(boxes) / 2


def days_of(view):
    return [each for page in view["weeks"] for column in page["columns"] for each in column]


def overlapping(boxes):
    """Pairs of words of which one lies on the other by more than a hair."""
    for index, one in enumerate(boxes):
        for other in boxes[index + 1 :]:
            wide = min(one.right, other.right) - max(one.left, other.left)
            high = min(one.top, other.top) - max(one.bottom, other.bottom)
            if wide > 0.7 and high > 0.7:
                yield one.text, other.text


def test_every_period_and_look_of_a_day_stands_on_the_page_in_local_time():
    printed = words_on(print_chart(chart((day(1, ["9:15-10:45", "14:20-15:50"]),)), "en"))
    for time in ("9:15", "10:45", "11:15", "14:20", "15:50", "16:20"):
        assert time in printed


def test_a_time_after_midnight_carries_a_star_that_is_explained():
    printed = words_on(print_chart(chart(week(CYCLES)), "en"))
    assert "7:00*" in printed
    assert "A star (*) means the next day." in printed


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("leg", [WALKS, NEEDS_HELP, PROTECTED])
def test_when_to_stop_and_whom_to_ring_comes_before_any_time_and_is_the_largest(leg, language):
    made = print_chart(chart(leg=leg), language)
    printed = words_on(made)
    assert printed.index("01632 960114") < printed.index("112") < printed.index("9:00")
    tallest = max(boxes_of_words(made), key=lambda box: box.size)
    assert tallest.text in chart_view(chart(leg=leg), language)["stop"]["heading"].split()


def test_every_sign_to_stop_for_is_told_with_the_minutes_a_mark_may_last():
    facts = chart(leg=replace(WALKS, limit_minutes=20))
    for language, signs in {
        "en": ("it hurts", "the skin is sore or broken", "a mark is still there after 20 minutes"),
        "es": ("duele", "la piel está irritada o con herida", "una marca sigue ahí a los 20 minutos"),
    }.items():
        printed = words_on(print_chart(facts, language))
        assert all(sign in printed for sign in signs)


def test_a_walker_sits_down_first():
    assert "Sit down first, then take it off." in words_on(print_chart(chart(), "en"))
    assert "Siéntese primero y luego quíteselo." in words_on(print_chart(chart(), "es"))


@pytest.mark.parametrize("standing", [Standing.WEARING, Standing.OFF, Standing.AWAY, Standing.ENDED])
def test_who_cannot_stand_without_it_is_told_not_to_stand_alone(standing):
    facts = chart(leg=NEEDS_HELP, standing=standing)
    assert "Do not stand up alone without it." in words_on(print_chart(facts, "en"))
    assert "No se ponga de pie a solas sin él." in words_on(print_chart(facts, "es"))


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("cannot_stand", [False, True])
@pytest.mark.parametrize("standing", Standing)
def test_nobody_is_told_to_take_off_what_protects(standing, cannot_stand, language):
    facts = chart(leg=replace(PROTECTED, cannot_stand=cannot_stand), standing=standing)
    printed = words_on(print_chart(facts, language))
    assert TAKE_OFF.search(printed) is None


def test_the_search_for_take_it_off_finds_it_where_it_is_said():
    assert all(TAKE_OFF.search(words_on(print_chart(chart(), language))) for language in LANGUAGES)


def test_a_protective_orthosis_is_left_on_and_we_are_rung_today():
    printed = words_on(print_chart(chart(leg=PROTECTED), "en"))
    assert "Ring us today on 01632 960114" in printed
    assert "Leave it on as ordered until we have spoken." in printed


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("standing", [Standing.OFF, Standing.AWAY, Standing.ENDED, Standing.NOT_STARTED])
def test_a_plan_that_gives_no_times_prints_none_and_says_so(standing, language):
    made = print_chart(chart(standing=standing, printed_at=at(MONDAY, "8:07")), language)
    printed = words_on(made)
    assert len(read(made).pages) == 1
    assert set(re.findall(r"\d+:\d\d", printed)) == {"8:07"}
    assert chart_view(chart(standing=standing), language)["state"]["heading"] in printed
    assert "01632 960114" in printed


def test_what_is_left_on_as_ordered_has_looks_and_no_times_on_and_off():
    printed = words_on(print_chart(chart((day(1, ["9:15-10:45"]),), PROTECTED, Standing.LEAVE_ON), "en"))
    assert "10:45" in printed
    assert "9:15" not in printed


def test_a_day_that_is_off_in_the_middle_of_a_week_has_no_times():
    off = day(3, (), state=PlanState.OFF)
    view = days_of(chart_view(chart((day(1), off)), "en"))[1]
    assert (view["rows"], view["none"]) == ([], "off until we speak")


@pytest.mark.parametrize("off", [{1}, {3}, {7}, {1, 2, 3, 6, 7}, {1, 2, 3, 4, 5, 6, 7}])
def test_days_without_times_may_stand_anywhere_in_a_week(off):
    days = tuple(day(number, () if number in off else CYCLES) for number in range(1, 8))
    assert words_on(print_chart(chart(days), "en")).count("no time on this day") == len(off)


def test_after_a_stop_only_the_periods_that_had_begun_are_printed():
    stopped = day(1, stopped_at=at(MONDAY, "12:00"))
    printed = words_on(print_chart(chart((stopped, day(2, ()))), "en"))
    assert "10:30" in printed
    assert not re.search(r"15:00|16:00|16:30", printed)


def test_what_is_not_issued_yet_says_that_it_hangs_on_clear_looks():
    view = chart_view(chart(), "en")
    assert [bool(each["provisional"]) for each in days_of(view)] == [False] + [True] * 6
    printed = words_on(print_chart(chart(), "en"))
    assert printed.count("if every look is clear") == 7
    assert "If they do not match this sheet, ring us or look at the page." in printed


def test_todays_reason_is_told_and_no_other():
    printed = words_on(print_chart(chart(), "en"))
    assert printed.count("the skin was clear") == 1
    later = chart(printed_at=at(MONDAY - timedelta(days=3), "8:00"))
    assert "the skin was clear" not in words_on(print_chart(later, "en"))


def test_feeling_by_hand_has_a_box_where_it_is_asked_for():
    assert "felt" in words_on(print_chart(chart(leg=NEEDS_HELP), "en"))
    assert "felt" not in words_on(print_chart(chart(), "en"))


@pytest.mark.parametrize(("care", "words"), [(Care.EMERGENCY, "Ring 112 now."), (Care.DOCTOR, "See a doctor today.")])
def test_other_care_that_is_asked_for_stands_above_all_else(care, words):
    printed = words_on(print_chart(chart(care=care), "en"))
    assert printed.index(words) < printed.index("Stop and ring us")


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("standing", Standing)
def test_the_file_is_tagged_titled_and_knows_its_language(standing, language):
    catalogue = read(print_chart(chart(standing=standing), language)).trailer["/Root"]
    assert catalogue["/MarkInfo"]["/Marked"]
    assert catalogue["/Lang"] == language
    assert catalogue["/ViewerPreferences"]["/DisplayDocTitle"]
    assert "/StructTreeRoot" in catalogue


@pytest.mark.parametrize(("side", "word"), [("left", "izquierda"), ("right", "derecha")])
def test_every_figure_has_words_and_names_its_side(side, word):
    said = figures(print_chart(chart(leg=replace(WALKS, side=side)), "es"))
    assert len(said) == 6
    assert sum(word in each or f"pie {word[:-1]}o" in each for each in said) == 5
    assert sum(ADDRESS in each for each in said) == 1


def test_a_left_leg_is_the_right_one_turned():
    left, right = (chart_view(chart(leg=replace(WALKS, side=side)), "en")["leg"]["views"] for side in ("left", "right"))
    turn = ' transform="translate(148 0) scale(-1 1)"'
    assert left[0]["svg"] == right[0]["svg"].replace('<g class="figure">', f'<g class="figure"{turn}>')


def test_the_square_is_the_code_of_the_address_with_a_white_border():
    code = segno.make(ADDRESS, error="m", micro=False)
    drawn = chart_view(chart(), "en")["link"]["svg"]
    assert dark_modules(drawn) == {
        (x + 4, y + 4) for y, row in enumerate(code.matrix) for x, module in enumerate(row) if module
    }
    size = len(code.matrix) + 8
    assert f'viewBox="0 0 {size} {size}"' in drawn


def dark_modules(svg: str) -> set[tuple[int, int]]:
    """The dark squares of a drawn code, from the strokes of its path."""
    path = re.search(r'<path[^>]*class="qrline"[^>]*d="([^"]+)"', svg)
    assert path
    found, x, y = set(), 0.0, 0.0
    for letter, numbers in re.findall(r"([Mmhz])([^Mmhz]*)", path[1]):
        values = [float(each) for each in re.findall(r"-?\d*\.?\d+", numbers)]
        if letter == "M":
            x, y = values
        elif letter == "m":
            x, y = x + values[0], y + values[1]
        elif letter == "h":
            found |= {(int(x) + each, int(y)) for each in range(int(values[0]))}
            x += values[0]
    return found


def test_the_address_stands_beside_the_square_in_words():
    assert ADDRESS in words_on(print_chart(chart(), "en")).replace("\u200b", "").replace("/ ", "/")


def test_without_a_known_page_there_is_no_square():
    made = print_chart(chart(address=""), "en")
    assert len(figures(made)) == 5
    assert "in our newest message" in words_on(made)


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_same_facts_give_the_same_bytes(language):
    assert print_chart(chart(), language) == print_chart(chart(), language)
    assert print_chart(chart(), language) != print_chart(chart(printed_at=at(MONDAY, "8:01")), language)


@pytest.mark.parametrize("odd", ["#panic()", '"; #eval("1")', "$x^2$", "*b* _i_ @r <l>", "\\", "}{", "</svg>", "ñ Ł"])
def test_no_words_are_read_as_markup(odd):
    ring = replace(QUILLMERE, practice=odd)
    printed = words_on(print_chart(chart(leg=replace(WALKS, initials=odd), ring=ring), "en"))
    assert printed.replace("\u200b", "").count(" ".join(odd.split())) >= 2


@pytest.mark.parametrize(
    ("name", "initials"),
    [("Aldo Torvenn", "A. T."), ("  ána-maría o'dell ", "Á. M. O."), ("#let x", "L. X."), ("7 8", ""), ("", "")],
)
def test_initials_are_letters_only(name, initials):
    assert initials_of(name) == initials


def test_numbers_nobody_gave_are_blanks_to_fill_in_by_hand():
    printed = words_on(print_chart(chart(ring=NumbersToRing(), address=""), "en"))
    assert "Stop and ring us on ____" in printed


@pytest.mark.parametrize(("paper", "size"), [(Paper.A4, (595, 842)), (Paper.LETTER, (612, 792))])
def test_paper_is_a4_or_letter(paper, size):
    page = read(print_chart(chart(), "en", paper)).pages[0]
    assert (round(page.mediabox.width), round(page.mediabox.height)) == size


def test_two_weeks_are_two_pages():
    fortnight = tuple(day(number) for number in range(1, 15))
    assert len(read(print_chart(chart(fortnight), "en")).pages) == 2


def test_a_week_too_full_for_one_page_goes_on_rather_than_grow_too_small_to_read():
    crowded = chart(week([f"{hour}:00-{hour}:20" for hour in range(7, 22)], every=10))
    made = print_chart(crowded, "en")
    pages = range(len(read(made).pages))
    sizes = [box.size for page in pages for box in boxes_of_words(made, page) if ":" in box.text]
    assert len(pages) > 1
    assert min(sizes) >= SMALLEST
    assert words_on(made).count(", day") == 7


@pytest.mark.parametrize("name", LONG_WEEKS)
def test_no_time_is_set_in_type_too_small_to_read(name):
    made = print_chart(chart(LONG_WEEKS[name], NEEDS_HELP), "es", Paper.LETTER)
    assert min(box.size for box in boxes_of_words(made) if re.fullmatch(r"\d+:\d\d.*", box.text)) >= SMALLEST


@pytest.mark.parametrize("language", LANGUAGES)
def test_there_is_no_colour(language):
    content = read(print_chart(chart(), language)).pages[0].get_contents().get_data().decode("latin-1")
    colours = re.findall(r"^([\d.]+) ([\d.]+) ([\d.]+) (?:rg|RG|sc|SC|scn|SCN)$", content, re.MULTILINE)
    assert all(red == green == blue for red, green, blue in colours)


def test_an_unknown_language_is_refused():
    with pytest.raises(UnknownId):
        print_chart(chart(), "xx")


def phrases(language):
    table = tomllib.loads((template_root() / f"documents/words/{language}.toml").read_text("utf-8"))
    return {
        f"{name}.{key}": words for name, group in table.items() if name != "language" for key, words in group.items()
    }


def test_both_languages_have_the_same_keys_and_facts():
    en, es = phrases("en"), phrases("es")
    assert en.keys() == es.keys()
    facts = re.compile(r"\{\w+\}")
    assert [key for key in en if sorted(facts.findall(en[key])) != sorted(facts.findall(es[key]))] == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_words_are_easy_to_read(language):
    told = [words for words in phrases(language).values() if words.endswith(".")]
    found = read_text(re.sub(r"\{\w+\}", "10", "\n".join(told)), language)
    assert found.steady
    assert found.easy
