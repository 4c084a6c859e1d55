from __future__ import annotations

import pytest

from followup.core.reply import Reply, ReplyKind, read_reply


@pytest.mark.parametrize("text", ["1", " 1 ", "1.", "1 fine", "1 Fine, thank you!", "One", "fine", "All good, fine"])
def test_fine_in_english(text):
    assert read_reply(text, "en") == Reply(ReplyKind.ANSWER, 1)


@pytest.mark.parametrize("text", ["1", "1 bien", "uno", "Todo bien, gracias"])
def test_fine_in_spanish(text):
    assert read_reply(text, "es") == Reply(ReplyKind.ANSWER, 1)


@pytest.mark.parametrize(
    "text", ["1 but a toe looks odd", "1 or 2", "1?2", "not fine", "1 pero no camina", "12", "1 20"]
)
def test_a_fine_that_could_hide_a_report_is_left_for_a_person(text):
    reply = read_reply(text, "en")
    assert (reply.kind, reply.says_more) == (ReplyKind.UNREADABLE, True)


@pytest.mark.parametrize(("text", "number"), [("2", 2), ("3", 3), ("4", 4), ("cuatro", 4), ("three", 3)])
def test_a_number_is_an_answer(text, number):
    assert read_reply(text, "es") == Reply(ReplyKind.ANSWER, number)


def test_words_beside_a_number_are_kept_for_a_person():
    assert read_reply("2 at the heel", "en") == Reply(ReplyKind.ANSWER, 2, says_more=True)
    assert read_reply("3, duele mucho", "es") == Reply(ReplyKind.ANSWER, 3, hurts=True, says_more=True)


@pytest.mark.parametrize(
    ("text", "language"), [("STOP", "en"), ("Stop", "es"), ("¡Baja!", "es"), ("unsubscribe", "en")]
)
def test_an_opt_out(text, language):
    assert read_reply(text, language) == Reply(ReplyKind.STOP)


@pytest.mark.parametrize(
    ("text", "language"), [("stop, it hurts", "en"), ("alto, me duele", "es"), ("STOP. Blood!", "en")]
)
def test_stop_it_hurts_is_an_opt_out_and_a_report(text, language):
    assert read_reply(text, language) == Reply(ReplyKind.STOP, hurts=True, says_more=True)


@pytest.mark.parametrize("text", ["it hurts, should I stop?", "me duele"])
def test_pain_without_a_number_is_a_report_but_no_opt_out(text):
    reply = read_reply(text, "es")
    assert (reply.kind, reply.hurts) == (ReplyKind.UNREADABLE, True)


@pytest.mark.parametrize(("text", "language"), [("start", "en"), ("iniciar", "es"), ("Start", "es")])
def test_an_opt_in(text, language):
    assert read_reply(text, language).kind is ReplyKind.START


@pytest.mark.parametrize(("text", "language"), [("help", "en"), ("ayuda", "es"), ("AYUDA", "es")])
def test_a_call_for_help(text, language):
    assert read_reply(text, language).kind is ReplyKind.HELP


@pytest.mark.parametrize("text", ["", "  ", "👍", "???"])
def test_nothing_to_read(text):
    assert read_reply(text, "en").kind is ReplyKind.UNREADABLE


def test_a_word_of_another_language_is_no_keyword():
    assert read_reply("baja", "en").kind is ReplyKind.UNREADABLE
