"""``followup protocols``: list the published schedules, draw one, and check the file of a new one."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict, replace
from datetime import time
from pathlib import Path
from zoneinfo import ZoneInfo

import click

from followup.cli.plan_commands import Window, read_precautions
from followup.cli.protocol_text import draw, said_range
from followup.clinical.load_protocols import check_protocol, find_protocol, load_protocols
from followup.clinical.load_sources import load_sources
from followup.clinical.protocol_file import Fault
from followup.core.plan_terms import PlanTerms
from followup.core.precaution import WithoutOrthosis
from followup.core.wear_day import day_times
from followup.core.wear_protocol import WearProtocol, chosen_minutes
from followup.core.wearing_goal import Activity, RangeEnd, WearingGoal, check_goal
from followup.errors import InvalidInput

SCHEMA = "followup.protocol/1"
USUAL_FULL_WEAR = 480
ANY_ZONE = ZoneInfo("UTC")
"""A ladder has no dates, so no zone is asked for."""

_format = click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True)
_full_wear = click.option("--full-wear", type=click.IntRange(1, 1440), help="Minutes a day.")
_window = click.option("--window", type=Window(), default="07:30-21:30", show_default=True, help="When it may be worn.")


@click.group()
def protocols() -> None:
    """The published wear schedules a plan can follow."""


@protocols.command("list")
@_format
def list_(form: str) -> None:
    """List every protocol with its source and how long a mark may last."""
    known = load_protocols().values()
    if form == "json":
        click.echo(json.dumps([_as_json(each) for each in known], ensure_ascii=False, indent=1))
        return
    for each in known:
        click.echo(f"{each.id}  {each.title}\n     mark gone within {each.mark_limit_minutes} minutes. {each.source}")


@protocols.command()
@click.argument("protocol_id", metavar="ID")
@_full_wear
@_window
@click.option("--end", type=click.Choice([each.value for each in RangeEnd]), default="low", show_default=True)
@click.option(
    "--activity", type=click.Choice([each.value for each in Activity]), default="mostly_on_feet", show_default=True
)
@click.option("--precaution", "precautions", multiple=True, help="Id of a precaution; may be repeated.")
@_format
def show(
    protocol_id: str,
    full_wear: int | None,
    window: tuple[time, time],
    end: str,
    activity: str,
    precautions: tuple[str, ...],
    form: str,
) -> None:
    """Draw one protocol: its source, its ladder step by step, and where a clinician decides."""
    protocol = find_protocol(protocol_id)
    goal = _goal(protocol, full_wear, window, RangeEnd(end), Activity(activity))
    terms = PlanTerms.of(protocol, goal, read_precautions(precautions), WithoutOrthosis.WALKS)
    if form == "json":
        click.echo(json.dumps(_terms_as_json(terms), ensure_ascii=False, indent=1))
    else:
        click.echo("\n".join(draw(terms)))


@protocols.command()
@click.argument("files", metavar="FILE...", nargs=-1, required=True, type=click.Path(exists=True, path_type=Path))
@_full_wear
@_window
@_format
def check(files: tuple[Path, ...], full_wear: int | None, window: tuple[time, time], form: str) -> None:
    """Say of protocol files whether they can be followed, or what is wrong in them and what to write."""
    checked = [(file, _check(file, full_wear, window)) for file in files]
    if form == "json":
        click.echo(json.dumps([_check_as_json(*each) for each in checked], ensure_ascii=False, indent=1))
    else:
        click.echo("\n".join(line for each in checked for line in _check_as_text(*each)))
    wrong = [(file, faults[0]) for file, (_, faults) in checked if faults]
    if wrong:
        file, fault = wrong[0]
        message = f"{len(wrong)} of {len(files)} can't be followed; mend what is listed, then check again."
        raise InvalidInput("bad_protocol", message, f"{file}: {fault.key}" if fault.key else str(file))


def _check(
    file: Path, full_wear: int | None, window: tuple[time, time]
) -> tuple[WearProtocol | None, tuple[Fault, ...]]:
    if file.is_dir():
        return None, (Fault("", "name a file, not a folder"),)
    read = check_protocol(file, load_sources())
    if not isinstance(read, WearProtocol):
        return None, read
    return read, (*_same_form(read), *_what_the_day_cannot_hold(read, full_wear, window))


def _same_form(protocol: WearProtocol) -> tuple[Fault, ...]:
    """A dated form is never edited; the file in force itself is no fault."""
    known = load_protocols(protocol.effective_on).get(protocol.id)
    if known is None or known.effective_on != protocol.effective_on:
        return ()
    if replace(known, tightening=()) == protocol:
        return ()
    said = f"write a later date: {protocol.id} from {protocol.effective_on} is in force and says something else"
    return (Fault("effective_on", said),)


def _what_the_day_cannot_hold(
    protocol: WearProtocol, full_wear: int | None, window: tuple[time, time]
) -> tuple[Fault, ...]:
    """The first step whose minutes the window does not hold, at either end and for either kind of wearer."""
    for end in RangeEnd:
        for activity in Activity:
            goal = _goal(protocol, full_wear, window, end, activity)
            for number, step in enumerate(protocol.steps(goal), 1):
                wanted = chosen_minutes(step, goal)
                held = day_times(step, wanted, protocol.mark_limit_minutes, goal, protocol.looks).target_minutes
                if held < wanted:
                    said = f"write less: of the {wanted} minutes of step {number} the day's window holds {held}"
                    return (Fault("ladder", said),)
    return ()


def _goal(
    protocol: WearProtocol, full_wear: int | None, window: tuple[time, time], end: RangeEnd, activity: Activity
) -> WearingGoal:
    """The goal asked for; without minutes the document's own full wear, or the usual eight hours (common practice)."""
    minutes = full_wear or protocol.full_wear_minutes or USUAL_FULL_WEAR
    goal = WearingGoal(ANY_ZONE, minutes, *window, end, activity=activity)
    check_goal(goal, protocol.mark_limit_minutes)
    return goal


def _check_as_text(file: Path, found: tuple[WearProtocol | None, tuple[Fault, ...]]) -> Iterator[str]:
    protocol, faults = found
    if faults:
        yield f"{file}: can't be followed"
        yield from (f"  {fault.key or 'the file'}: {fault.advice}" for fault in faults)
    elif protocol:
        yield f"{file}: can be followed"
        yield f"  {_summary(protocol)}"


def _summary(protocol: WearProtocol) -> str:
    goal = WearingGoal(ANY_ZONE, protocol.full_wear_minutes or USUAL_FULL_WEAR)
    steps, own = protocol.steps(goal), protocol.own_steps(goal)
    first = said_range(steps[0].low_minutes, steps[0].high_minutes)
    ends = "full wear" if own == len(steps) else f"a clinician decides after step {own}"
    return f"{protocol.id} from {protocol.effective_on}: {first} at first, then {ends} (step {len(steps)})"


def _check_as_json(file: Path, found: tuple[WearProtocol | None, tuple[Fault, ...]]) -> dict[str, object]:
    protocol, faults = found
    return {
        "file": str(file),
        "can_be_followed": not faults,
        "id": protocol.id if protocol else None,
        "faults": [{"key": fault.key, "advice": fault.advice} for fault in faults],
    }


def _as_json(protocol: WearProtocol) -> dict[str, object]:
    return {
        "id": protocol.id,
        "title": protocol.title,
        "source": protocol.source,
        "mark_limit_minutes": protocol.mark_limit_minutes,
        "source_key": protocol.source_key,
        "grade": protocol.grade,
        "whom": protocol.whom,
        "effective_on": protocol.effective_on.isoformat(),
        "digest": protocol.digest,
    }


def _terms_as_json(terms: PlanTerms) -> dict[str, object]:
    protocol = terms.protocol
    return {
        "schema": SCHEMA,
        **_as_json(protocol),
        "mark_limit_source": protocol.mark_limit_source,
        "mark_limit_for_wearer": terms.mark_limit_minutes,
        "written_for": sorted(protocol.written_for),
        "looks": list(terms.looks),
        "discomfort": protocol.discomfort.value,
        "smaller_step_minutes": protocol.smaller_step_minutes,
        "call_after_days": protocol.call_after_days,
        "full_wear_minutes": terms.goal.full_wear_minutes,
        "precaution_rules": [rule.id for rule in terms.rules],
        "own_steps": terms.own_top,
        "raised_by_program": terms.advances_itself,
        "steps": [_step_as_json(terms, number) for number in range(1, terms.top + 1)],
    }


def _step_as_json(terms: PlanTerms, number: int) -> dict[str, object]:
    step = terms.ladder[number - 1]
    return {
        "step": number,
        "target_minutes": terms.target(number),
        "range_minutes": [step.low_minutes, step.high_minutes],
        "published": terms.published[number - 1],
        "shape": {name: value for name, value in asdict(step.shape).items() if value},
    }
