"""Taking deliveries in: a CSV of them or one form, each whole or not at all, the same one twice changing nothing."""

from __future__ import annotations

import csv
import hashlib
import io
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection

from followup.core.delivery import COLUMNS, Delivery, DeliveryFaults, parse_delivery
from followup.errors import InvalidInput
from followup.services.practice import Practice
from followup.storage import orthoses, people
from followup.storage.audit import write_entry

SURPLUS = "after the last column"


@dataclass(frozen=True, slots=True)
class RowFault:
    """One thing to mend in a file: line and column as a person counts them, and what to do."""

    line: int
    column: str
    message: str


@dataclass(frozen=True, slots=True)
class ImportSummary:
    """What a file of deliveries led to."""

    new: int
    unchanged: int
    changed: int
    faults: tuple[RowFault, ...]


def import_deliveries(practice: Practice, text: str, by: str, now: datetime) -> ImportSummary:
    """Take in every good row of a CSV and report every bad one; `InvalidInput` if it is no such file at all."""
    counts = {"new": 0, "unchanged": 0, "changed": 0}
    faults: list[RowFault] = []
    for line, row in _rows(text):
        try:
            if SURPLUS in row:
                raise DeliveryFaults([(SURPLUS, "has more cells than the first line names; quote words with a comma")])
            delivery = parse_delivery(row, frozenset(practice.protocols))
            counts[take_delivery(practice, delivery, by, now)[1]] += 1
        except DeliveryFaults as error:
            faults.extend(RowFault(line, column, message) for column, message in error.faults)
    return ImportSummary(**counts, faults=tuple(faults))


def _rows(text: str) -> Sequence[tuple[int, Mapping[str, str]]]:
    reader = csv.DictReader(io.StringIO(text.removeprefix("\ufeff")), restkey=SURPLUS, strict=True)
    try:
        missing = [name for name in COLUMNS if name not in (reader.fieldnames or [])]
        if missing:
            raise InvalidInput(
                "missing_columns", f"The first line must name the columns; missing: {', '.join(missing)}.", "line 1"
            )
        return [(reader.line_num, {k: v or "" for k, v in row.items()}) for row in reader if any(row.values())]
    except csv.Error as error:
        raise InvalidInput(
            "bad_csv", f"Not readable as CSV ({error}); save it again as CSV.", f"line {reader.line_num + 1}"
        ) from error


def take_delivery(practice: Practice, delivery: Delivery, by: str, now: datetime) -> tuple[int, str]:
    """Record one delivery; the orthosis id and ``new``, ``changed`` or ``unchanged``.

    Once its plan has started, what the plan is made of can no longer be changed here: `DeliveryFaults`.
    """
    digest = _digest(delivery)
    with practice.store.write() as connection:
        known = orthoses.by_identifier(connection, delivery.identifier)
        if known and known["row_digest"] == digest:
            return known["id"], "unchanged"
        if known and known["started_at"]:
            raise DeliveryFaults(
                [("identifier", f"{delivery.identifier!r} is in use and its plan has started; change it on its page")]
            )
        wearer_id = _put_people(connection, delivery, now)
        values = {**_orthosis_values(delivery), "wearer_id": wearer_id, "row_digest": digest, "recorded_at": now}
        if known:
            orthoses.replace_orthosis(connection, known["id"], values)
            orthosis_id = int(known["id"])
        else:
            orthosis_id = orthoses.add_orthosis(connection, values)
        write_entry(connection, now, by, "delivery_recorded", f"orthosis:{orthosis_id}")
        return orthosis_id, "changed" if known else "new"


def _put_people(connection: Connection, delivery: Delivery, now: datetime) -> int:
    wearer = {
        "reference": delivery.wearer_reference,
        "name": delivery.wearer_name,
        "walking_aid": delivery.walking_aid,
        "without_orthosis": delivery.without_orthosis,
        "one_handed": delivery.one_handed,
        "shin_bears_pressure": delivery.shin_bears_pressure,
    }
    wearer_id = people.put_wearer(connection, wearer, {str(k): v for k, v in delivery.precautions.items()})
    for each in delivery.contacts:
        values = {k: v for k, v in asdict(each).items() if k != "consent"}
        contact_id = people.put_contact(connection, {**values, "wearer_id": wearer_id})
        known = people.contact_of(connection, contact_id)
        if known is None or known.consents != each.consent or not each.consent:
            people.record_consent(connection, contact_id, each.consent, "at delivery", now)
    return wearer_id


def _orthosis_values(delivery: Delivery) -> dict[str, Any]:
    names = (
        "side",
        "shell",
        "strut",
        "strut_position",
        "material",
        "footplate",
        "heel",
        "fastening",
        "identifier",
        "lot",
        "protocol_id",
        "full_wear_minutes",
        "range_end",
        "zone",
        "delivered_on",
    )
    values = {name: getattr(delivery, name) for name in names}
    return {
        **values,
        "window_start": f"{delivery.window_start:%H:%M}",
        "window_end": f"{delivery.window_end:%H:%M}",
    }


def _digest(delivery: Delivery) -> str:
    return hashlib.sha256(json.dumps(asdict(delivery), sort_keys=True, default=str).encode()).hexdigest()
