from __future__ import annotations

import re
from html import unescape
from itertools import product

import pytest

from followup.core.message import UNTIL_WE_SPEAK
from followup.core.sentences import LANGUAGES
from followup.core.text_message import Alphabet, encode_plan
from followup.core.urgency import Urgency
from followup.errors import InvalidInput, UnknownId
from followup.words.preview import CASES, PURPOSES, example, longest_example
from followup.words.render import KINDS, payload_keys, render

EVERY_MESSAGE = list(product(KINDS, LANGUAGES, CASES))
TO_FAMILIES = [each for each in EVERY_MESSAGE if each[0] != "on_call"]
WEAR_KINDS = [kind for kind in KINDS if "leave_on" in payload_keys(kind)]
CHECK_WEAR = list(product(WEAR_KINDS, LANGUAGES))

TAKE_OFF = {"en": re.compile(r"take it off|leave it off"), "es": re.compile(r"quítese|no se lo ponga")}
SITTING_OR_LYING = {"en": "Take it off sitting or lying", "es": "Quíteselo en una silla o en la cama"}
NOT_ALONE = {"en": "Do not stand up alone", "es": "No se ponga de pie a solas"}
FORBIDS = {"en": "do not take it off by yourself", "es": "no se lo quite por su cuenta"}
AS_ORDERED = {"en": "Leave it on as ordered", "es": "Déjelo puesto como se le indicó"}


def words_of(html: str) -> str:
    body = re.sub(r"<style>.*?</style>|<title>.*?</title>", "", html, flags=re.DOTALL)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", body)).split())


@pytest.mark.parametrize(("kind", "language", "case"), EVERY_MESSAGE)
def test_the_html_says_every_line_of_the_text(kind: str, language: str, case: str) -> None:
    message = render(kind, language, example(case))
    assert [line for line in message.text.splitlines() if line not in words_of(message.html)] == []


@pytest.mark.parametrize(("kind", "language", "case"), TO_FAMILIES)
def test_every_form_carries_the_emergency_number_and_the_practice_number(kind: str, language: str, case: str) -> None:
    message = render(kind, language, {**example(case), "phone": "5550142", "emergency": "118"})
    forms = (message.text, message.html, message.short, message.short_no_reply)
    assert all("118" in form and "5550142" in form for form in forms)


@pytest.mark.parametrize(("language", "kind"), list(product(LANGUAGES, WEAR_KINDS)))
def test_the_first_paragraph_says_what_to_do_and_whom_to_ring(language: str, kind: str) -> None:
    first, second = render(kind, language, example()).text.split("\n\n")[:2]
    assert TAKE_OFF[language].search(first.lower())
    assert "01632 960114" in first or kind in UNTIL_WE_SPEAK
    assert "112" in second


@pytest.mark.parametrize(("kind", "language"), CHECK_WEAR)
def test_someone_who_cannot_stand_alone_takes_it_off_sitting_or_lying(kind: str, language: str) -> None:
    text = render(kind, language, example("cannot_stand")).text
    assert SITTING_OR_LYING[language] in text
    assert NOT_ALONE[language] in text


@pytest.mark.parametrize(("kind", "language"), CHECK_WEAR)
def test_the_short_form_tells_someone_who_cannot_stand_not_to_be_alone(kind: str, language: str) -> None:
    message = render(kind, language, example("cannot_stand"))
    said = {"en": "Don't stand alone", "es": "No se levante a solas"}[language].lower()
    assert said in message.short.lower()
    assert said in message.short_no_reply.lower()


@pytest.mark.parametrize(("kind", "language", "also"), [(*each, also) for each in CHECK_WEAR for also in (True, False)])
def test_a_protective_one_is_left_on_as_ordered_in_every_form(kind: str, language: str, also: bool) -> None:
    message = render(kind, language, {**example("leave_on"), "cannot_stand": also})
    whole = f"{message.subject}\n{message.text}\n{words_of(message.html)}"
    assert AS_ORDERED[language] in message.text
    assert FORBIDS[language] in whole.lower()
    assert not TAKE_OFF[language].search(whole.lower().replace(FORBIDS[language], ""))
    assert re.search(r"leave it on|no se lo quite", message.short.lower())
    assert not re.search(r"off|quite y|en silla", message.short.lower())


@pytest.mark.parametrize(("kind", "language"), CHECK_WEAR)
def test_a_protective_one_gets_no_wear_times(kind: str, language: str) -> None:
    message = render(kind, language, example("leave_on"))
    assert "9:00" not in message.text + message.html + message.short


@pytest.mark.parametrize(("kind", "case"), list(product(KINDS, CASES)))
def test_an_english_short_text_is_one_part_with_the_longest_values(kind: str, case: str) -> None:
    message = render(kind, "en", longest_example("en", case))
    for short in (message.short, message.short_no_reply):
        assert (encode_plan(short).alphabet, encode_plan(short).parts) == (Alphabet.GSM7, 1)


@pytest.mark.parametrize(("kind", "case"), list(product(KINDS, CASES)))
def test_a_spanish_short_text_is_at_most_two_parts_with_the_longest_values(kind: str, case: str) -> None:
    message = render(kind, "es", longest_example("es", case))
    assert max(encode_plan(short).parts for short in (message.short, message.short_no_reply)) <= 2


@pytest.mark.parametrize(("kind", "language"), list(product(["check_prompt", "question"], LANGUAGES)))
def test_the_four_replies_stand_where_a_reply_is_asked_for(kind: str, language: str) -> None:
    message = render(kind, language, example())
    fourth = {"en": "4 call me", "es": "4 llam"}[language]
    assert [line[0] for line in message.text.splitlines() if line[:1].isdigit()] == ["1", "2", "3", "4"]
    assert fourth in message.short.lower()
    assert fourth not in message.short_no_reply.lower()
    assert message.short_no_reply.endswith(example()["link"])


def test_fine_is_defined_by_all_it_means() -> None:
    text = render("question", "en", example()).text
    fine = next(line for line in text.splitlines() if line.startswith("1 "))
    said = "no mark|within 20|hurts|itches|listed above|warm|moves as usual|fall|blow|cracked|loose|rubs|layer|shoe"
    assert [sign for sign in said.split("|") if sign not in fine] == []


def test_times_made_the_evening_before_say_tomorrow() -> None:
    message = render("times", "en", {**example(), "tomorrow": True})
    assert message.subject == "Your times for tomorrow"
    assert "Tomorrow 9:00-10:00" in message.short
    assert "Today" not in message.text + message.short


def test_html_in_a_value_is_shown_as_words() -> None:
    html = render("times", "en", {**example(), "practice": "<img src=x>&", "total": "<b>2 h</b>"}).html
    assert "<img" not in html
    assert "<b>2 h" not in html
    assert "&lt;img src=x&gt;&amp;" in html


def test_a_missing_value_is_named_and_nothing_is_rendered() -> None:
    payload = example()
    del payload["phone"], payload["limit"]
    with pytest.raises(InvalidInput, match="limit, phone") as caught:
        render("times", "en", payload)
    assert caught.value.path == "limit"


def test_a_link_that_is_not_a_web_address_is_refused() -> None:
    with pytest.raises(InvalidInput, match="https://"):
        render("times", "en", {**example(), "link": "javascript:alert(1)"})


@pytest.mark.parametrize(("kind", "language"), [("reminder", "en"), ("times", "fr"), ("../times", "en")])
def test_an_unknown_kind_or_language_is_said_so(kind: str, language: str) -> None:
    with pytest.raises(UnknownId, match="Choose one of"):
        render(kind, language, example())


@pytest.mark.parametrize(("kind", "language"), list(product(KINDS, LANGUAGES)))
def test_nothing_a_payload_holds_beyond_the_allowed_values_is_said(kind: str, language: str) -> None:
    more = {"name": "Marker", "reason": "Marker", "diagnosis": "Marker", "answer": "Marker"}
    assert render(kind, language, {**example(), **more}) == render(kind, language, example())


def test_every_kind_has_a_stated_purpose() -> None:
    assert set(PURPOSES) == set(KINDS)


@pytest.mark.parametrize("kind", KINDS)
def test_both_languages_need_the_same_values(kind: str) -> None:
    assert payload_keys(kind, "es") == payload_keys(kind, "en")


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("urgency", list(Urgency))
def test_the_person_on_call_reads_the_urgency_in_words(language: str, urgency: Urgency) -> None:
    message = render("on_call", language, {**example(), "urgency": urgency.id})
    assert urgency.id not in message.text
    assert message.text != render("on_call", language, {**example(), "urgency": "keep_to_plan"}).text or not urgency


def test_the_plan_for_tomorrow_is_left_out_where_it_is_not_known() -> None:
    payload = example()
    del payload["tomorrow_total"]
    assert "tomorrow" not in render("question", "en", payload).text.lower()
