"""Where the invented practice is kept, and its deliveries moved to the days they are played on."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from pathlib import Path

import followup
from followup.errors import FollowupError

DELIVERIES, STORY, GATEWAYS = "deliveries.csv", "story.toml", "gateways.toml"


def find_demo_data(beside: Path | None = None) -> Path:
    """The folder ``demo_data`` of the checkout the program runs from, or of the current folder.

    Raises `FollowupError` where there is none: an installed package does not bring it.
    """
    places = [beside or Path(followup.__file__).resolve().parents[1], Path.cwd()]
    for place in places:
        if (place / "demo_data" / STORY).is_file():
            return place / "demo_data"
    raise FollowupError(
        "no_demo_data",
        "The folder demo_data is not here: an installed package does not bring it. Run deploy/run in a checkout.",
        "demo_data",
    )


def read_deliveries(folder: Path, moved: timedelta) -> list[dict[str, str]]:
    """The rows of the deliveries, each moved by so many days."""
    with (folder / DELIVERIES).open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return [{**row, "delivered_on": str(date.fromisoformat(row["delivered_on"]) + moved)} for row in rows]


def as_csv(rows: Sequence[Mapping[str, str]]) -> str:
    """Rows as the text of a file that `import` takes."""
    text = io.StringIO()
    writer = csv.DictWriter(text, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()
