"""``followup plan``: the plan that a published schedule gives one wearer."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import click

from followup.cli.json_input import each_key_once
from followup.cli.plan_explanation_text import lines, sources
from followup.clinical.load_protocols import find_protocol, load_protocol_history
from followup.core.plan_event import PlanEvent
from followup.core.plan_event_json import parse_event
from followup.core.plan_explanation import DayExplanation, explain
from followup.core.plan_reason import day_sentence
from followup.core.precaution import Precaution, WithoutOrthosis
from followup.core.wear_day import issue_instant
from followup.core.wear_plan import Assume, PlanFacts, WearDay, replay
from followup.core.wear_protocol import WearProtocol
from followup.core.wearing_goal import RangeEnd, WearingGoal
from followup.errors import InvalidInput, UnknownId

SCHEMA = "followup.plan/1"
MOST_DAYS = 3660
EARLIEST, LATEST = date(1990, 1, 1), date(2200, 1, 1)

_format = click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True)


class Day(click.ParamType[date]):
    """A local date such as 2026-03-02."""

    name = "date"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> date:
        """Read the date; anything else is wrong usage."""
        try:
            day = date.fromisoformat(value)
        except ValueError:
            self.fail(f"{value!r} is not a date; write one such as 2026-03-02", param, ctx)
        if not EARLIEST <= day < LATEST:
            self.fail(f"{value!r} is not a year of this plan; write one from {EARLIEST.year}", param, ctx)
        return day


class Window(click.ParamType[tuple[time, time]]):
    """A local day window such as 07:30-21:30, which may cross midnight."""

    name = "window"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[time, time]:
        """Read both times; anything else is wrong usage."""
        if isinstance(value, tuple):
            return value
        try:
            start, end = (datetime.strptime(each, "%H:%M").time() for each in value.split("-"))  # noqa: DTZ007
        except ValueError:
            self.fail(f"{value!r} is not a window; write one such as 07:30-21:30", param, ctx)
        return start, end


class Moment(click.ParamType[datetime]):
    """An instant with its offset, a local date and time, or a date (the end of that local day)."""

    name = "instant"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> datetime:
        """Read the instant; without an offset it stays naive, for the plan's zone to place."""
        try:
            moment = datetime.fromisoformat(value)
        except ValueError:
            self.fail(f"{value!r} is not an instant; write one such as 2026-03-05T18:00:00+01:00", param, ctx)
        if not EARLIEST <= moment.date() < LATEST:
            self.fail(f"{value!r} is not a year of this plan; write one from {EARLIEST.year}", param, ctx)
        return moment.replace(hour=23, minute=59, second=59) if len(value) <= len("2026-03-05") else moment


@click.command()
@click.option("--protocol", "protocol_id", required=True, help="Id of a protocol, such as s01.")
@click.option("--delivered", "delivered_on", type=Day(), required=True, help="Local date of day 1.")
@click.option("--zone", "zone_name", required=True, help="IANA time zone, such as Europe/Madrid.")
@click.option("--days", type=click.IntRange(1, MOST_DAYS), required=True, help="How many days to show.")
@click.option("--full-wear", type=click.IntRange(1, 1440), default=480, show_default=True, help="Minutes a day.")
@click.option("--window", type=Window(), default="07:30-21:30", show_default=True, help="When it may be worn.")
@click.option("--end", type=click.Choice([each.value for each in RangeEnd]), default="low", show_default=True)
@click.option("--precaution", "precautions", multiple=True, help="Id of a precaution; may be repeated.")
@click.option(
    "--without", type=click.Choice([each.value for each in WithoutOrthosis]), default="walks", show_default=True
)
@click.option("--assume", type=click.Choice([each.value for each in Assume]), default="clear", show_default=True)
@click.option("--as-of", type=Moment(), help="What is known when: by default all events, or nothing yet.")
@click.option("--events", "events_file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--explain", "explained", is_flag=True, help="Say what each day rests on, and what would raise the next.")
@_format
def plan(
    protocol_id: str,
    delivered_on: date,
    zone_name: str,
    days: int,
    full_wear: int,
    window: tuple[time, time],
    end: str,
    precautions: tuple[str, ...],
    without: str,
    assume: str,
    as_of: datetime | None,
    events_file: Path | None,
    explained: bool,
    form: str,
) -> None:
    """Show a wear plan day by day, as recorded and as foreseen."""
    protocol = find_protocol(protocol_id, delivered_on)
    goal = WearingGoal(_zone(zone_name), full_wear, *window, RangeEnd(end))
    events = _read_events(events_file) if events_file else []
    known_at = _known_at(as_of, events, delivered_on, goal)
    wearer = read_precautions(precautions), WithoutOrthosis(without), delivered_on
    facts = PlanFacts(protocol, goal, *wearer, events, protocols=_protocols_by_digest())
    known = known_at, days, Assume(assume)
    shown = replay(protocol, goal, *wearer, events, *known, protocols=facts.protocols)
    said = explain(facts, *known) if explained else ()
    click.echo(_as_json(protocol, goal, shown, said) if form == "json" else _as_text(goal, shown, said))


def _protocols_by_digest() -> dict[str, WearProtocol]:
    history = load_protocol_history().values()
    return {protocol.digest: protocol for protocols in history for protocol in protocols.values()}


def _zone(name: str) -> ZoneInfo:
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        message = f"{name!r} is not a time zone; write an IANA name such as Europe/Madrid."
        raise InvalidInput("unknown_zone", message, "zone") from None


def read_precautions(ids: Iterable[str]) -> frozenset[Precaution]:
    """Precautions by id; raises ``UnknownId`` that lists the ones there are."""
    known = [each.value for each in Precaution]
    for each in ids:
        if each not in known:
            message = f"{each!r} is not a precaution; choose from: {', '.join(known)}."
            raise UnknownId("unknown_precaution", message, "precaution")
    return frozenset(map(Precaution, ids))


def _known_at(as_of: datetime | None, events: Sequence[PlanEvent], delivered_on: date, goal: WearingGoal) -> datetime:
    if as_of is not None:
        return as_of if as_of.tzinfo else as_of.replace(tzinfo=goal.zone)
    before_day_1 = issue_instant(delivered_on, goal) - timedelta(seconds=1)
    return max([before_day_1, *(each.recorded_at for each in events)])


def _read_events(file: Path) -> list[PlanEvent]:
    events: dict[str, PlanEvent] = {}
    for number, line in enumerate(file.read_bytes().splitlines(), 1):
        if not line.strip():
            continue
        event = _read_event(line, f"{file}:{number}")
        if events.setdefault(event.id, event) != event:
            message = f"Give each event an id of its own; {event.id!r} already says something else."
            raise InvalidInput("duplicate_event", message, f"{file}:{number}")
    return list(events.values())


def _read_event(line: bytes, place: str) -> PlanEvent:
    try:
        return parse_event(json.loads(line, object_pairs_hook=each_key_once))
    except InvalidInput as error:
        at = f"{error.path}: " if error.path else ""
        raise InvalidInput(error.code, at + error.message, place) from None
    except (ValueError, RecursionError):
        message = "Write one JSON object on each line, in UTF-8, with each key once."
        raise InvalidInput("bad_event", message, place) from None


def _as_json(
    protocol: WearProtocol, goal: WearingGoal, days: Sequence[WearDay], explained: Sequence[DayExplanation]
) -> str:
    shown = [_day_as_json(each, goal) for each in days]
    for day, said in zip(shown, explained, strict=False):
        day["explanation"] = lines(said)
    plan = {"schema": SCHEMA, "protocol": protocol.id, "digest": protocol.digest, "days": shown}
    plan |= {"sources": sources(explained)} if explained else {}
    return json.dumps(plan, ensure_ascii=False, indent=1)


def _day_as_json(day: WearDay, goal: WearingGoal) -> dict[str, object]:
    return {
        "day": day.day,
        "date": day.on.isoformat(),
        "basis": day.basis.value,
        "step": day.step,
        "target_minutes": day.target_minutes,
        "range_minutes": list(day.range_minutes),
        "state": day.state.value,
        "instruction": day.instruction.value,
        "reasons": [each.code.value for each in day.reasons],
        "reason": day_sentence(day.reasons),
        "periods": [
            {"on_at": _local(each.on_at, goal), "off_at": _local(each.off_at, goal), "minutes": each.minutes}
            for each in day.periods
        ],
        "checks": [{"at": _local(each.at, goal), "kind": each.kind.value} for each in day.checks],
        "stopped_at": _local(day.stopped_at, goal) if day.stopped_at else None,
    }


def _as_text(goal: WearingGoal, days: Sequence[WearDay], explained: Sequence[DayExplanation]) -> str:
    shown = [_day_as_text(each, goal) for each in days]
    for number, said in enumerate(explained):
        shown[number] += "".join(f"\n    {line}" for line in lines(said))
    return "\n".join([*shown, *sources(explained)])


def _day_as_text(day: WearDay, goal: WearingGoal) -> str:
    times = ", ".join(
        f"{each.on_at.astimezone(goal.zone):%H:%M}-{each.off_at.astimezone(goal.zone):%H:%M}" for each in day.periods
    )
    stopped = f" [stopped {day.stopped_at.astimezone(goal.zone):%H:%M}]" if day.stopped_at else ""
    sentence = day_sentence(day.reasons)
    return f"day {day.day}  {day.on}  {day.basis:<9}  {times or 'none':<24}  {sentence}{stopped}"


def _local(at: datetime, goal: WearingGoal) -> str:
    return at.astimezone(goal.zone).isoformat()
