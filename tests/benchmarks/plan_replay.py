"""How fast a recorded plan is replayed, beside the least any program must do for it: its local times made instants.

Run by hand: ``.venv/bin/python -m tests.benchmarks.plan_replay``. Both sides run in turn in one process on the same
machine; the best round of each counts, and the ratio is what may be compared between machines.
"""

from __future__ import annotations

import json
import platform
import sys
from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from time import perf_counter
from zoneinfo import ZoneInfo

from followup.clinical.load_protocols import load_protocols
from followup.core.plan_event import CheckResult, EventType, PlanEvent, SkinCheck
from followup.core.precaution import WithoutOrthosis
from followup.core.wear_plan import WearDay, replay
from followup.core.wear_protocol import WearProtocol
from followup.core.wearing_goal import WearingGoal

ZONE = ZoneInfo("America/New_York")
DELIVERED_ON = date(2026, 2, 16)  # the clocks change within the plan
DAYS = 56
ROUNDS = 7


def clear_checks(days: tuple[WearDay, ...]) -> list[PlanEvent]:
    """One clear look for each day of a plan, told a minute after the last look that was due."""
    return [_clear_check(day) for day in days if day.checks]


def _clear_check(day: WearDay) -> PlanEvent:
    at = day.checks[-1].at
    check = SkinCheck(day.on, CheckResult.CLEAR, worn_minutes=day.target_minutes, looked_at=at)
    return PlanEvent(f"check-{day.day}", EventType.SKIN_CHECK, at, at + timedelta(minutes=1), check)


def foreseen(protocol: WearProtocol) -> tuple[WearDay, ...]:
    """The plan as it stands before its first day."""
    return _plan(protocol, [], DELIVERED_ON)


def replayed(protocol: WearProtocol, events: list[PlanEvent]) -> tuple[WearDay, ...]:
    """The plan as it stands after its last day."""
    return _plan(protocol, events, DELIVERED_ON + timedelta(days=DAYS))


def _plan(protocol: WearProtocol, events: list[PlanEvent], as_of_on: date) -> tuple[WearDay, ...]:
    as_of = datetime.combine(as_of_on, time(), UTC)
    goal = WearingGoal(ZONE)
    return replay(protocol, goal, frozenset(), WithoutOrthosis.WALKS, DELIVERED_ON, events, as_of, DAYS)


def instants(days: tuple[WearDay, ...]) -> list[datetime]:
    """Every instant of a plan: issue, on, off, look."""
    ends = [at for day in days for each in day.periods for at in (each.on_at, each.off_at)]
    return [*(day.issued_at for day in days), *ends, *(check.at for day in days for check in day.checks)]


def plain_loop(local_times: list[datetime]) -> list[datetime]:
    """The same instants from the same local times, with zoneinfo alone."""
    return [at.replace(tzinfo=ZONE).astimezone(UTC) for at in local_times]


def best_seconds(*sides: Callable[[], object]) -> list[float]:
    """The best of several rounds of each side, taken in turn."""
    best = [float("inf")] * len(sides)
    for _ in range(ROUNDS):
        for index, side in enumerate(sides):
            start = perf_counter()
            side()
            best[index] = min(best[index], perf_counter() - start)
    return best


def measure(plans: int = 200) -> dict[str, object]:
    """Replay `plans` plans spread over the shipped protocols; rates in plan days a second."""
    protocols = list(load_protocols().values())
    first = [foreseen(protocol) for protocol in protocols]
    events = [clear_checks(each) for each in first]
    local_times = [[at.astimezone(ZONE).replace(tzinfo=None) for at in instants(each)] for each in first]
    turn = [number % len(protocols) for number in range(plans)]
    replaying, looping = best_seconds(
        lambda: [replayed(protocols[each], events[each]) for each in turn],
        lambda: [plain_loop(local_times[each]) for each in turn],
    )
    return {
        "python": platform.python_version(),
        "plans": plans,
        "days_each": DAYS,
        "replay_days_per_second": round(plans * DAYS / replaying),
        "plain_loop_days_per_second": round(plans * DAYS / looping),
        "replay_takes_times_the_plain_loop": round(replaying / looping, 1),
    }


if __name__ == "__main__":
    sys.stdout.write(json.dumps(measure()) + "\n")
