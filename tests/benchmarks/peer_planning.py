"""The replay of whole wear plans beside general ways of turning local times into instants, in turn in one process.

Run by hand, with the folder that holds ``bench_planning.py``, which is used as it is:
``.venv/bin/python -m tests.benchmarks.peer_planning --peers FOLDER``. That script needs numpy, SQLAlchemy,
python-dateutil and pendulum beside what the program needs.

Both sides make 42 days of three local times for the same start dates and zones. The peers add the times up; the replay
also decides each day by what was recorded, gives its reasons, and every instant and reason of it is read.
"""

from __future__ import annotations

import argparse
import json
import platform
import random
import sys
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from importlib import import_module
from pathlib import Path
from statistics import median
from time import perf_counter
from types import ModuleType
from zoneinfo import ZoneInfo

from followup.clinical.load_protocols import find_protocol
from followup.core.plan_event import CheckResult, EventType, PlanEvent, SkinCheck
from followup.core.plan_reason import day_sentence
from followup.core.precaution import WithoutOrthosis
from followup.core.wear_plan import WearDay, replay
from followup.core.wearing_goal import WearingGoal

DAYS = 42
LENGTHS = (42, 84, 168, 336)
SCHEDULE = find_protocol("s04")  # North Tees and Hartlepool: 30 minutes, then 15 more a day
ONE_PERIOD = 60  # minutes of full wear that stay one period: on, off, and one look after it
USUAL = 480
PLAIN = "plain datetime -> UTC datetime"
PEERS = {
    PLAIN: "plain",
    "plain datetime -> timestamp": "plain_ts",
    "plain + gap/ambiguous check": "plain_checked",
    "plain -> plan row dicts": "plain_records",
    "offset once a day, integers": "per_day_offset",
    "numpy, one patient a call": "numpy_one",
    "dateutil rrule": "rrule_",
    "pendulum": "pendulum_",
}

Start = tuple[date, ZoneInfo]


@dataclass(frozen=True)
class Case:
    """One plan to replay, and what was recorded of it."""

    start: date
    goal: WearingGoal
    events: tuple[PlanEvent, ...]
    as_of: datetime
    days: int

    def replayed(self) -> tuple[WearDay, ...]:
        return replay(
            SCHEDULE,
            self.goal,
            frozenset(),
            WithoutOrthosis.WALKS,
            self.start,
            self.events,
            self.as_of,
            self.days,
        )


def projected(start: Start, days: int = DAYS, full_wear: int = ONE_PERIOD) -> Case:
    """A plan before its first day: nothing recorded, every day foreseen."""
    on, zone = start
    as_of = datetime.combine(on - timedelta(days=1), time(), UTC)
    return Case(on, WearingGoal(zone, full_wear), (), as_of, days)


def recorded(start: Start, days: int = DAYS, full_wear: int = ONE_PERIOD) -> Case:
    """The same plan after its last day, with a clear check recorded after each day's last look."""
    foreseen = projected(start, days, full_wear)
    checks = tuple(_clear_check(day) for day in foreseen.replayed())
    as_of = datetime.combine(foreseen.start + timedelta(days=days + 1), time(), UTC)
    return Case(foreseen.start, foreseen.goal, checks, as_of, days)


def _clear_check(day: WearDay) -> PlanEvent:
    at = day.checks[-1].at
    check = SkinCheck(day.on, CheckResult.CLEAR, worn_minutes=day.target_minutes, looked_at=at)
    return PlanEvent(f"check-{day.day}", EventType.SKIN_CHECK, at, at + timedelta(minutes=1), check)


def read(days: Iterable[WearDay]) -> list[datetime]:
    """Every instant of a plan, each day's reasons touched on the way."""
    instants: list[datetime] = []
    for day in days:
        assert day.reasons
        for period in day.periods:
            instants += (period.on_at, period.off_at)
        instants += [check.at for check in day.checks]
    return instants


def sentences(days: Iterable[WearDay]) -> list[str]:
    """What a family is told of each day, in words."""
    return [day_sentence(day.reasons) for day in days]


def starts(peers: ModuleType, count: int) -> list[Start]:
    """Start dates and zones drawn as the peers draw them."""
    source = random.Random(1)
    return [
        (date(2025, 1, 1) + timedelta(days=source.randrange(700)), ZoneInfo(source.choice(peers.ZONES)))
        for _ in range(count)
    ]


def rate(side: Callable[[], object], plans: int) -> float:
    """Plans a second in one round."""
    began = perf_counter()
    side()
    return plans / (perf_counter() - began)


def in_turn(sides: dict[str, Callable[[], object]], plans: int, rounds: int) -> dict[str, list[float]]:
    """The rates of every side, one round of each at a time."""
    rates: dict[str, list[float]] = {name: [] for name in sides}
    for _ in range(rounds):
        for name, side in sides.items():
            rates[name].append(rate(side, plans))
    return rates


def sides_of(peers: ModuleType, drawn: Sequence[Start]) -> dict[str, Callable[[], object]]:
    """What is compared: our replays first, then every peer by its own name."""
    foreseen, past = [projected(each) for each in drawn], [recorded(each) for each in drawn]
    usual = [recorded(each, full_wear=USUAL) for each in drawn]
    ours: dict[str, Callable[[], object]] = {
        "replay, projected": lambda: [read(case.replayed()) for case in foreseen],
        "replay, 42 recorded checks": lambda: [read(case.replayed()) for case in past],
        "replay, 42 recorded checks, and a sentence a day": lambda: [sentences(case.replayed()) for case in past],
        "replay, 42 recorded checks, two periods a day": lambda: [read(case.replayed()) for case in usual],
    }
    theirs = {name: _every(getattr(peers, function), drawn) for name, function in PEERS.items()}
    return {**ours, **theirs}


def _every(function: Callable[[date, ZoneInfo], object], drawn: Sequence[Start]) -> Callable[[], object]:
    return lambda: [function(*each) for each in drawn]


def by_length(drawn: Sequence[Start], rounds: int) -> dict[str, dict[str, float]]:
    """Microseconds a day of plans of several lengths, with a check recorded for each day, and beside the shortest."""
    cases = {days: [recorded(each, days) for each in drawn] for days in LENGTHS}
    sides = {str(days): _replayed(each) for days, each in cases.items()}
    rates = in_turn(sides, len(drawn), rounds)
    each_day = {days: 1e6 / median(values) / int(days) for days, values in rates.items()}
    first = each_day[str(LENGTHS[0])]
    return {days: {"microseconds_a_day": round(us, 2), "ratio": round(us / first, 2)} for days, us in each_day.items()}


def _replayed(cases: Sequence[Case]) -> Callable[[], object]:
    return lambda: [read(case.replayed()) for case in cases]


def compare(peers: ModuleType, plans: int, rounds: int) -> dict[str, object]:
    """Medians of the rates, every round, the ratios to the plain peer, and the cost by length."""
    drawn = starts(peers, plans)
    rates = in_turn(sides_of(peers, drawn), plans, rounds)
    plain = rates[PLAIN]
    return {
        "python": platform.python_version(),
        "plans": plans,
        "days": DAYS,
        "instants_a_plan": len({*read(projected(drawn[0]).replayed())}),
        "rounds": rounds,
        "plans_per_second": {
            name: {
                "median": round(median(values)),
                "to_plain": round(median(ours / other for ours, other in zip(values, plain, strict=True)), 3),
                "rounds": [round(each) for each in values],
            }
            for name, values in rates.items()
        },
        "by_days": by_length(drawn[: max(1, plans // 4)], rounds),
    }


def load_peers(folder: Path) -> ModuleType:
    """The peers' script as it stands in `folder`."""
    sys.path.insert(0, str(folder))
    return import_module("bench_planning")


def main() -> None:
    arguments = argparse.ArgumentParser(description=str(__doc__).splitlines()[0])
    arguments.add_argument("--peers", type=Path, required=True, help="the folder that holds bench_planning.py")
    arguments.add_argument("--plans", type=int, default=200)
    arguments.add_argument("--rounds", type=int, default=9)
    given = arguments.parse_args()
    result = compare(load_peers(given.peers), given.plans, given.rounds)
    sys.stdout.write(json.dumps(result, indent=1) + "\n")


if __name__ == "__main__":
    main()
