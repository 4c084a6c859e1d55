"""The printed chart of one plan's week: facts in, the words and figures of a page out, as values that JSON can hold."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from followup.core import sentences
from followup.core.plan_reason import day_sentence
from followup.core.plan_terms import PlanTerms
from followup.core.printed_sheet import DAYS_A_WEEK, ChartFacts, NumbersToRing, Standing, WornLeg, standing_of
from followup.core.wear_day import Basis, WearDay
from followup.words.sheet_rows import column_words, nothing_worn, rows_of, signs_in, total_of
from followup.words.sheet_words import SheetWords, leg_views, sheet_words, square_code
from followup.words.typeset import Paper, typeset

ONE_COLUMN = 22
"""Most rows of boxes that stand under each other in large type; more are set in two columns."""
COLUMN_LINES = 29
"""Most lines of one of the two columns that are still legible; what does not fit goes on to a further page."""
WITH_TIMES = (Standing.WEARING, Standing.LEAVE_ON)

View = dict[str, Any]


def print_chart(facts: ChartFacts, language: str, paper: Paper = Paper.A4) -> bytes:
    """The chart as a tagged PDF; the same facts give the same bytes. `UnknownId` for a language without words."""
    return typeset("chart.typ", chart_view(facts, language), facts.printed_at, paper)


def print_plan(
    days: Sequence[WearDay], terms: PlanTerms, zone: ZoneInfo, known_at: datetime, language: str, side: str = ""
) -> bytes:
    """The chart of a plan of no practice, one page a week; numbers to ring are left blank to fill in by hand."""
    leg = WornLeg(side, terms.mark_limit_minutes, terms.by_touch, terms.protective, terms.cannot_stand_alone)
    today = known_at.astimezone(zone).date()
    standing = standing_of(next((day for day in days if day.on == today), None), known_at)
    from_on = days[0].on if days else today
    return print_chart(ChartFacts(leg, NumbersToRing(), zone, known_at, from_on, standing, tuple(days)), language)


def chart_view(facts: ChartFacts, language: str) -> View:
    """Everything the chart's template sets, in reading order."""
    words = sheet_words(language, facts.zone)
    span = _span(facts, words)
    side = words(f"side.{facts.leg.side}") if facts.leg.side else ""
    title = words("page.title", side=side, span=span) if side else words("page.title_without_side", span=span)
    return {
        "language": language,
        "title": title,
        "initials": facts.leg.initials,
        "care": words.care(facts.care, facts.ring),
        "stop": _stop(facts, words),
        "danger": words.danger(facts.ring),
        "state": _state(facts, words),
        "weeks": _weeks(facts, words),
        "leg": _leg(facts, words) if facts.standing in WITH_TIMES and facts.leg.side else None,
        "link": _link(facts, words),
        "look": words.message_part("look"),
        "printed": words.printed(facts.printed_at),
        "paper": words("page.paper", practice=facts.ring.practice or words("page.unnamed_practice")),
    }


def _span(facts: ChartFacts, words: SheetWords) -> str:
    last = max([facts.from_on + timedelta(days=DAYS_A_WEEK - 1), *(day.on for day in facts.days)])
    first, last_words = (sentences.day_and_month(each, words.language) for each in (facts.from_on, last))
    return words("page.span", first=first, last=last_words)


def _stays_on(facts: ChartFacts) -> bool:
    return facts.leg.protective or facts.standing is Standing.LEAVE_ON


def _stop(facts: ChartFacts, words: SheetWords) -> View:
    """When to stop and whom to ring: with times the signs and the safe words, without times the number alone."""
    ring = facts.ring
    out = words("stop.out_of_hours", phone=words.number(ring.out_of_hours_phone)) if ring.out_of_hours_phone else ""
    if facts.standing not in WITH_TIMES:
        return {"heading": words("stop.ring", phone=words.number(ring.phone)), "signs": [], "safe": "", "out": out}
    who = "protective" if _stays_on(facts) else "walks"
    safe = who if who == "protective" or not facts.leg.cannot_stand else "cannot_stand"
    return {
        "heading": words(f"stop.{who}", phone=words.number(ring.phone)),
        "signs": list(_signs(facts, words)),
        "safe": words(f"safe.{safe}"),
        "out": out,
    }


def _signs(facts: ChartFacts, words: SheetWords) -> Iterator[str]:
    yield words("stop.hurts")
    yield words("stop.sore")
    if facts.standing is not Standing.LEAVE_ON:
        yield words("stop.mark", limit=facts.leg.limit_minutes)


def _state(facts: ChartFacts, words: SheetWords) -> View | None:
    """What a page without times says, None while the plan goes on."""
    standing, leg = facts.standing, facts.leg
    if standing is Standing.WEARING:
        return None
    key = "off_protective" if standing is Standing.OFF and leg.protective else standing.value
    texts = [words(f"state_text.{key}")]
    if standing is not Standing.NOT_STARTED and standing is not Standing.LEAVE_ON and leg.cannot_stand:
        texts.insert(0, words("state_text.off_cannot_stand"))
    return {"heading": words(f"state.{key}"), "texts": texts}


def _weeks(facts: ChartFacts, words: SheetWords) -> list[View]:
    """Each week on a page, on several where it would not be legible on one; nothing where no times are given."""
    if facts.standing not in WITH_TIMES:
        return []
    days = [_day(facts, day, words) for day in facts.days]
    weeks = [days[first : first + DAYS_A_WEEK] for first in range(0, len(days), DAYS_A_WEEK)]
    return [_week(facts, part, words) for week in weeks for part in _legible(week)]


def _legible(days: list[View]) -> Iterator[list[list[View]]]:
    """The columns of each page: one in large type where that holds the week, else two."""
    if sum(each["height"] for each in days) <= ONE_COLUMN:
        yield [days]
        return
    tries = (_in_columns(days, lines) for lines in range(COLUMN_LINES // 2, COLUMN_LINES + 1))
    columns = next((each for each in tries if len(each) <= 2), _in_columns(days, COLUMN_LINES))
    for first in range(0, len(columns), 2):
        yield columns[first : first + 2]


def _in_columns(days: list[View], lines: int) -> list[list[View]]:
    """The days in order, in columns of at most `lines` and at least one day."""
    columns: list[list[View]] = [[]]
    for day in days:
        if columns[-1] and sum(map(_lines, [*columns[-1], day])) > lines:
            columns.append([])
        columns[-1].append(day)
    return columns


def _lines(day: View) -> int:
    return int(day["height"]) + 1


def _week(facts: ChartFacts, columns: list[list[View]], words: SheetWords) -> View:
    days = [day for column in columns for day in column]
    worn = facts.standing is Standing.WEARING
    helps = [words("help.tick")]
    helps += [words("help.touch")] if facts.leg.by_touch else []
    helps += [words("help.longer")] if worn and not facts.leg.protective else []
    helps += signs_in([row for each in days for row in each["rows"]], words)
    helps += [words("week.provisional")] if any(each["provisional"] for each in days) else []
    return {
        "heading": words("week.heading"),
        "why": _why(facts, words) if any(each["today"] for each in days) else "",
        "helps": helps,
        "heads": column_words(facts.leg.protective, words),
        "touch": facts.leg.by_touch,
        "worn": worn,
        "columns": columns,
        "narrow": len(columns) > 1 or sum(each["height"] for each in days) > ONE_COLUMN,
    }


def _why(facts: ChartFacts, words: SheetWords) -> str:
    today = next((day for day in facts.days if day.on == _today(facts)), None)
    if today is None or not today.reasons or facts.standing is not Standing.WEARING:
        return ""
    return words("week.why", reason=day_sentence(today.reasons, words.language)) + "."


def _today(facts: ChartFacts) -> object:
    return facts.printed_at.astimezone(facts.zone).date()


def _day(facts: ChartFacts, day: WearDay, words: SheetWords) -> View:
    worn = facts.standing is Standing.WEARING
    rows = rows_of(day, words, worn=worn)
    provisional = _is_provisional(facts, day) and bool(rows)
    return {
        "words": words("week.day", date=sentences.full_date(day.on, words.language), day=day.day),
        "total": total_of(day, words) if worn else "",
        "today": day.on == _today(facts),
        "provisional": words("week.provisional_day") if provisional else "",
        "rows": rows,
        "none": "" if rows else nothing_worn(day, facts.leg, words),
        "height": max(1, len(rows)),
    }


def _is_provisional(facts: ChartFacts, day: WearDay) -> bool:
    """True for what is not issued yet. The first day waits for no look, and "leave it on" hangs on none."""
    if day.day == 1 or facts.standing is Standing.LEAVE_ON:
        return False
    return day.basis is Basis.PROJECTED or day.issued_at > facts.printed_at


def _leg(facts: ChartFacts, words: SheetWords) -> View:
    views = leg_views(facts.leg.side, words.language)
    return {"heading": words("leg.heading"), "help": words("leg.help"), "views": views}


def _link(facts: ChartFacts, words: SheetWords) -> View:
    if not facts.address:
        return {"heading": words("link.heading"), "help": words("link.none"), "svg": "", "alt": "", "address": ""}
    return {
        "heading": words("link.heading"),
        "help": words("link.help"),
        "svg": square_code(facts.address),
        "alt": words("link.alt", address=facts.address),
        "address": facts.address,
    }
