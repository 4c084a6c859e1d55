"""What a run of the demo came to: one line of counts, and on request everything that left and what is still open."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

from followup.core.wear_day import PlanState, WearDay
from followup.demo.receiver import Received
from followup.demo.stage import Stage
from followup.services.desk import count_messages, see_desk
from followup.services.see_wearers import see_wearer
from followup.services.tally import count_work, list_outbox
from followup.services.work_callbacks import see_queue


def outcome(stage: Stage, days: int) -> dict[str, int]:
    """The counts of a run.

    `plans_same_time` and `plans_off` count plans that had such a day, `plans_at_full_wear` those there on the last day.
    """
    plans = [_days_so_far(stage, orthosis_id) for orthosis_id in sorted(stage.households)]
    work = count_work(stage.practice)
    return {
        "wearers": len({each.reference for each in stage.households.values()}),
        "days": days,
        "messages_accepted": count_messages(stage.practice).get("accepted", 0),
        "messages_received": len(stage.receiver.received),
        "reports": work.reports,
        "callbacks_opened": work.callbacks_opened,
        "callbacks_closed": work.callbacks_closed,
        "plans_same_time": sum(any(day.state is PlanState.SAME_TIME for day in plan) for plan in plans),
        "plans_off": sum(any(day.state is PlanState.OFF or day.stopped_at for day in plan) for plan in plans),
        "plans_at_full_wear": sum(bool(plan) and plan[-1].at_full_wear for plan in plans),
    }


def export(stage: Stage, folder: Path) -> None:
    """Write what arrived, a folder for each address, and the queue, the desk list and the outbox as JSON lines."""
    for each in stage.receiver.received:
        place = folder / "arrived" / each.recipient.replace("/", "_")
        place.mkdir(parents=True, exist_ok=True)
        (place / f"{each.number:05}.eml").write_bytes(each.content)
    folder.mkdir(parents=True, exist_ok=True)
    _write_lines(folder / "queue.jsonl", (asdict(each) for each in see_queue(stage.practice, stage.now)))
    _write_lines(folder / "desk.jsonl", (asdict(each) for each in see_desk(stage.practice, stage.now)))
    _write_lines(folder / "outbox.jsonl", list_outbox(stage.practice))


def arrived(received: Iterable[Received]) -> dict[str, list[Received]]:
    """What arrived at each address, newest first; addresses in the order of their newest message."""
    phones: dict[str, list[Received]] = {}
    for each in sorted(received, key=lambda each: -each.number):
        phones.setdefault(each.recipient, []).append(each)
    return phones


def _days_so_far(stage: Stage, orthosis_id: int) -> list[WearDay]:
    view = see_wearer(stage.practice, orthosis_id, stage.now)
    return [day for day in view.plan if day.issued_at <= stage.now]


def _write_lines(path: Path, rows: Iterable[Mapping[str, Any]]) -> None:
    with path.open("w", encoding="utf-8") as file:
        for row in rows:
            file.write(json.dumps(dict(row), ensure_ascii=False, default=str) + "\n")
