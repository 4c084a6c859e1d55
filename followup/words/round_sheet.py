"""The round sheet: one day of several wearers for a care home or a school, known by initials only."""

from __future__ import annotations

from typing import Any

from followup.core import sentences
from followup.core.printed_sheet import RoundFacts, RoundLine, Standing
from followup.core.wear_day import Basis
from followup.words.sheet_rows import column_words, nothing_worn, rows_of, signs_in, total_of
from followup.words.sheet_words import SheetWords, sheet_words
from followup.words.typeset import Paper, typeset

View = dict[str, Any]


def print_round_sheet(facts: RoundFacts, language: str, paper: Paper = Paper.A4) -> bytes:
    """The round as a tagged PDF on its side; the same facts give the same bytes."""
    return typeset("round_sheet.typ", round_view(facts, language), facts.printed_at, paper)


def round_view(facts: RoundFacts, language: str) -> View:
    """Everything the round sheet's template sets, in reading order."""
    words = sheet_words(language, facts.zone)
    lines = [_line(line, facts, words) for line in facts.lines]
    protects = any(line.leg.protective for line in facts.lines)
    helps = [words("round.help"), *signs_in([row for line in lines for row in line["rows"]], words)]
    helps += [words("help.touch")] if any(line.leg.by_touch for line in facts.lines) else []
    return {
        "language": language,
        "title": words("round.title", day=sentences.full_date(facts.on, language)),
        "stop": words("round.stop", phone=words.number(facts.ring.phone)),
        "out": _out_of_hours(facts, words),
        "danger": words.danger(facts.ring),
        "heading": words("round.heading"),
        "helps": [*helps, words("round.newest")],
        "week": {
            "heads": column_words(protects, words),
            "touch": any(line.leg.by_touch for line in facts.lines),
            "worn": True,
        },
        "lines": lines,
        "nobody": "" if lines else words("round.nobody"),
        "printed": words.printed(facts.printed_at),
        "paper": words("round.paper", practice=facts.ring.practice or words("page.unnamed_practice")),
    }


def _out_of_hours(facts: RoundFacts, words: SheetWords) -> str:
    number = facts.ring.out_of_hours_phone
    return words("stop.out_of_hours", phone=words.number(number)) if number else ""


def _line(line: RoundLine, facts: RoundFacts, words: SheetWords) -> View:
    """One wearer: whose leg, what to do if something is seen, and the rows of the day in the wearer's own time."""
    here = sheet_words(words.language, line.zone)
    rows = _rows(line, here)
    care = here.care(line.care, facts.ring)
    safe = here(f"round.{_safe(line)}") if line.standing in (Standing.WEARING, Standing.LEAVE_ON) else ""
    limit = here("round.mark", limit=line.leg.limit_minutes) if rows and line.standing is Standing.WEARING else ""
    return {
        "words": f"{line.leg.initials}, {here(f'side.{line.leg.side}')}",
        "total": total_of(line.day, here) if rows and line.day and line.standing is Standing.WEARING else "",
        "note": " ".join(each for each in (care, f"{limit}." if limit else "", safe) if each),
        "none": "" if rows else _why_none(line, here),
        "today": False,
        "provisional": here("week.provisional_day") if rows and _is_provisional(line, facts) else "",
        "rows": rows,
    }


def _rows(line: RoundLine, words: SheetWords) -> list[View]:
    if line.day is None or line.standing not in (Standing.WEARING, Standing.LEAVE_ON):
        return []
    return rows_of(line.day, words, worn=line.standing is Standing.WEARING)


def _safe(line: RoundLine) -> str:
    if line.standing is Standing.LEAVE_ON:
        return "leave_on_seen"
    if line.leg.protective:
        return "protective"
    return "cannot_stand" if line.leg.cannot_stand else "walks"


def _why_none(line: RoundLine, words: SheetWords) -> str:
    if line.standing in (Standing.WEARING, Standing.LEAVE_ON):
        return nothing_worn(line.day, line.leg, words) if line.day else words("round.none")
    if line.standing is not Standing.OFF:
        return words(f"round.{line.standing.value}")
    who = "_protective" if line.leg.protective else "_cannot_stand" if line.leg.cannot_stand else ""
    return words(f"round.off{who}")


def _is_provisional(line: RoundLine, facts: RoundFacts) -> bool:
    if line.day is None or line.day.day == 1 or line.standing is Standing.LEAVE_ON:
        return False
    return line.day.basis is Basis.PROJECTED or line.day.issued_at > facts.printed_at
