"""A wear protocol drawn for a terminal of 80 columns, readable without colour."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from textwrap import wrap

from followup.clinical.load_sources import load_sources
from followup.core.plan_terms import PlanTerms
from followup.core.sentences import duration
from followup.core.step_shape import StepShape, WearStep
from followup.core.wear_protocol import Discomfort, LookKind, WearProtocol

WIDTH = 80
NAME_COLUMNS = 12
BAR_COLUMNS = 30
LOW, TO_HIGH = "█", "░"


def draw(terms: PlanTerms) -> list[str]:
    """The protocol of these terms line by line: what it is, its ladder as bars, and where somebody decides."""
    protocol = terms.protocol
    lines = wrap(f"{protocol.id}  {protocol.title}", WIDTH, subsequent_indent=" " * (len(protocol.id) + 2))
    for name, text in _facts(terms):
        lines += _beside(name, text)
    return [*lines, "", *draw_ladder(terms)]


def draw_ladder(terms: PlanTerms) -> list[str]:
    """The ladder as bars: full to the lowest minutes, light to the highest, words beside them or below."""
    most = max(step.high_minutes for step in terms.ladder)
    lines: list[str] = []
    for first, last in _runs(terms):
        if first == terms.own_top + 1:
            lines.append(f"-- after step {terms.own_top} a clinician decides ".ljust(WIDTH, "-"))
        lines += _drawn(terms, first, last, most)
    return lines


def _runs(terms: PlanTerms) -> Iterator[tuple[int, int]]:
    """First and last number of steps that are alike; what the program may not reach is never taken with what it may."""
    numbers = range(1, terms.top + 1)
    alike = groupby(numbers, lambda n: (terms.ladder[n - 1], terms.published[n - 1], n == terms.top, n > terms.own_top))
    for _, run in alike:
        found = list(run)
        yield found[0], found[-1]


def _drawn(terms: PlanTerms, first: int, last: int, most: int) -> list[str]:
    step = terms.ladder[first - 1]
    name = f"step {first}" if first == last else f"step {first}-{last}"
    filled = max(1, step.low_minutes * BAR_COLUMNS // most)
    bar = LOW * filled + TO_HIGH * (step.high_minutes * BAR_COLUMNS // most - filled)
    words = wrap(_words(terms, step, first), WIDTH - NAME_COLUMNS - BAR_COLUMNS - 2)
    head = f"{name:<{NAME_COLUMNS}}{bar:<{BAR_COLUMNS}}  {words[0]}"
    return [head, *(" " * (NAME_COLUMNS + BAR_COLUMNS + 2) + each for each in words[1:])]


def _words(terms: PlanTerms, step: WearStep, number: int) -> str:
    parts = [said_range(step.low_minutes, step.high_minutes), *said_shape(step.shape)]
    if not terms.published[number - 1]:
        parts.append("half a step, for a precaution")
    if number == terms.top:
        parts.append("full wear")
    return ", ".join(parts)


def said_range(low: int, high: int) -> str:
    """A band of minutes: ``30 minutes to 1 h``, ``30 to 45 minutes``, ``1 h``."""
    if low == high:
        return duration(low, "en")
    if high < 60:
        return f"{low} to {duration(high, 'en')}"
    return f"{duration(low, 'en')} to {duration(high, 'en')}"


def said_shape(shape: StepShape) -> Iterator[str]:
    """How the minutes lie in the day, part by part; nothing where they lie as usual."""
    if shape.periods:
        yield f"in {shape.periods} equal periods"
    if shape.on and shape.off:
        yield f"in turn: {said_range(*shape.on)} on, {said_range(*shape.off)} off"
    if shape.nights:
        yield "the night as well"
    if shape.removals:
        fewest, most = shape.removals
        times = f"{fewest} times" if fewest == most else f"{fewest} to {most} times"
        yield f"taken off {times} a day for the skin"
    if shape.rest_days:
        yield f"then {shape.rest_days} day{'s' if shape.rest_days > 1 else ''} without"


def _facts(terms: PlanTerms) -> Iterator[tuple[str, str]]:
    protocol, goal = terms.protocol, terms.goal
    yield "source", f"{protocol.source} ({protocol.source_key}, grade {protocol.grade})"
    yield "from", protocol.effective_on.isoformat()
    yield "for whom", protocol.whom
    if protocol.written_for:
        yield "written for", ", ".join(sorted(protocol.written_for)) + ": not slowed again for it"
    yield "mark limit", _said_limit(terms)
    yield "looks", ", ".join(_said_look(each, terms.mark_limit_minutes) for each in terms.looks)
    yield "discomfort", _said_discomfort(protocol)
    yield "precautions", "; ".join(f"{rule.asks.value}: {_cited(rule.source, rule.ours)}" for rule in terms.rules)
    window = f"{goal.window_start:%H:%M} and {goal.window_end:%H:%M}"
    if protocol.worn_at_all_times:
        yield "goal", "worn at all times, whatever full wear is prescribed"
    else:
        full = duration(goal.full_wear_minutes, "en")
        yield "goal", f"full wear {full} a day, between {window}, {goal.range_end.value} end of ranges"
    yield "ends", _said_end(terms)


def _cited(source: str, ours: str) -> str:
    return source or ours


def _said_limit(terms: PlanTerms) -> str:
    row = load_sources()[terms.protocol.mark_limit_source]
    published = f"{terms.protocol.mark_limit_minutes} minutes ({row['publisher']}, {row['title']})"
    if terms.mark_limit_minutes == terms.protocol.mark_limit_minutes:
        return published
    return f"{terms.mark_limit_minutes} minutes for these precautions; the document: {published}"


def _said_look(kind: LookKind, limit: int) -> str:
    return {
        LookKind.REMOVAL: "as it comes off",
        LookKind.AFTER_LIMIT: f"{limit} minutes after that",
        LookKind.WHILE_ON: "while it is worn",
    }[kind]


def _said_discomfort(protocol: WearProtocol) -> str:
    said = {
        Discomfort.SHORTER: "a shorter time",
        Discomfort.LAST_TOLERATED: "back to the last comfortable time, then smaller steps",
        Discomfort.REST_OF_DAY: "off for the rest of the day, begin again the next",
    }[protocol.discomfort]
    if protocol.smaller_step_minutes:
        said += f" of {duration(protocol.smaller_step_minutes, 'en')}"
    return f"{said}; a call after {protocol.call_after_days} days of it" if protocol.call_after_days else said


def _said_end(terms: PlanTerms) -> str:
    if not terms.advances_itself:
        return "a clinician raises every step, for a precaution"
    if terms.own_top < terms.top:
        return f"the document's steps end at step {terms.own_top}; a clinician decides how it goes on"
    if terms.protocol.worn_at_all_times:
        return "no ramp: it is full wear from the first day"
    return f"step {terms.top} is full wear, each step after a clear check of the one before"


def _beside(name: str, text: str) -> list[str]:
    """A fact with its name in the margin; nothing for a fact that does not apply."""
    if not text:
        return []
    first, *others = wrap(text, WIDTH - NAME_COLUMNS)
    return [f"{name:<{NAME_COLUMNS}}{first}", *(" " * NAME_COLUMNS + each for each in others)]
