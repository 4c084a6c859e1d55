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
from zoneinfo import ZoneInfo

from sqlalchemy import Connection

from followup.core.delivery import COLUMNS, Delivery, DeliveryFaults, parse_delivery
from followup.core.plan_event_json import fixed_points_as_json
from followup.core.plan_terms import PlanTerms
from followup.core.precaution import Precaution, WithoutOrthosis
from followup.core.wearing_goal import Activity, RangeEnd, WearingGoal, check_goal
from followup.errors import InvalidInput
from followup.services.practice import Practice
from followup.storage import orthoses, outbox, people
from followup.storage.audit import write_entry

SURPLUS = "after the last column"
NEWER: Mapping[str, object] = {"fixed_points": (), "activity": Activity.MOSTLY_ON_FEET, "checker": "", "replaces": ""}
"""What files did not say from the beginning, with what it means that they do not."""


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
    _check_plan(practice, delivery)
    with practice.store.write() as connection:
        known = orthoses.by_identifier(connection, delivery.identifier)
        if known and known["row_digest"] == digest:
            return known["id"], "unchanged"
        _check_known(connection, delivery, known)
        _check_replaced(connection, delivery)
        wearer_id = _put_people(connection, delivery, now)
        _drop_contacts(connection, delivery, wearer_id, now)
        values = {**_orthosis_values(delivery), "wearer_id": wearer_id, "row_digest": digest, "recorded_at": now}
        if known:
            orthoses.replace_orthosis(connection, known["id"], values)
            orthosis_id = int(known["id"])
        else:
            orthosis_id = orthoses.add_orthosis(connection, values)
        write_entry(connection, now, by, "delivery_recorded", f"orthosis:{orthosis_id}")
        return orthosis_id, "changed" if known else "new"


def _check_plan(practice: Practice, delivery: Delivery) -> None:
    """`DeliveryFaults` where no day could be laid out for this goal."""
    goal = WearingGoal(
        ZoneInfo(delivery.zone),
        delivery.full_wear_minutes,
        delivery.window_start,
        delivery.window_end,
        RangeEnd(delivery.range_end),
        delivery.fixed_points,
        Activity(delivery.activity),
    )
    precautions = {Precaution(name) for name, present in delivery.precautions.items() if present}
    protocol = practice.protocol(delivery.protocol_id, delivery.delivered_on)
    terms = PlanTerms.of(protocol, goal, frozenset(precautions), WithoutOrthosis(delivery.without_orthosis))
    try:
        check_goal(goal, terms.mark_limit_minutes)
    except InvalidInput as error:
        raise DeliveryFaults([(error.path, error.message)]) from error


def _check_known(connection: Connection, delivery: Delivery, known: Mapping[str, Any] | None) -> None:
    """`DeliveryFaults` where the row would change a started plan, or mix up two wearers or two orthoses."""
    wearer = people.wearer_called(connection, delivery.wearer_reference)
    if known and known["started_at"]:
        raise DeliveryFaults(
            [("identifier", f"{delivery.identifier!r} is in use and its plan has started; it is not changed here")]
        )
    if known and (wearer is None or wearer["id"] != known["wearer_id"]):
        message = f"{delivery.identifier!r} is recorded for somebody else; write the identifier on this orthosis"
        raise DeliveryFaults([("identifier", message)])
    if wearer is None:
        return
    if not known and wearer["name"] != delivery.wearer_name:
        message = f"{delivery.wearer_reference!r} is recorded for somebody of another name; give each their own"
        raise DeliveryFaults([("wearer_reference", message)])
    if not known or orthoses.has_started(connection, wearer["id"]):
        _check_unchanged(connection, delivery, wearer)


def _check_replaced(connection: Connection, delivery: Delivery) -> None:
    """`DeliveryFaults` where what this orthosis replaces is not an earlier one of the same wearer."""
    if not delivery.replaces:
        return
    earlier = orthoses.by_identifier(connection, delivery.replaces)
    wearer = people.wearer_called(connection, delivery.wearer_reference)
    if delivery.replaces == delivery.identifier or earlier is None:
        message = f"{delivery.replaces!r} is no orthosis we know; write the identifier of the earlier one, or nothing"
        raise DeliveryFaults([("replaces", message)])
    if wearer is None or earlier["wearer_id"] != wearer["id"] or earlier["side"] != delivery.side:
        message = f"{delivery.replaces!r} is not on the same leg of this wearer; write that identifier, or nothing"
        raise DeliveryFaults([("replaces", message)])


def _check_unchanged(connection: Connection, delivery: Delivery, wearer: Mapping[str, Any]) -> None:
    """What another plan of this wearer is made of stays: days issued would change, and what protects could be lost."""
    named = ("wearer_name", "walking_aid", "without_orthosis", "one_handed", "shin_bears_pressure")
    changed = [name for name in named if wearer[name.removeprefix("wearer_")] != getattr(delivery, name)]
    recorded = people.precautions_of(connection, wearer["id"])
    for name, present in delivery.precautions.items():
        if recorded.get(name, False) != present:
            changed.append("precautions_present")
    if changed:
        message = f"is recorded otherwise for {delivery.wearer_reference!r}, who has a plan already; write the same"
        raise DeliveryFaults([(column, message) for column in dict.fromkeys(changed)])


def _drop_contacts(connection: Connection, delivery: Delivery, wearer_id: int, now: datetime) -> None:
    """Who a corrected row no longer names hears nothing more; with two orthoses each row may name its own."""
    named = {(each.name, each.address) for each in delivery.contacts}
    alone = orthoses.count_of_wearer(connection, wearer_id) <= 1
    for contact in people.contacts_of(connection, [wearer_id])[wearer_id]:
        if alone and (contact.name, contact.address) not in named:
            people.drop_contact(connection, contact.id)
            outbox.withdraw_of_contact(connection, contact.id, now)


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
        "protective",
        "activity",
        "checker",
    )
    values = {name: getattr(delivery, name) for name in names}
    return {
        **values,
        "replaces": delivery.replaces or None,
        "fixed_points": fixed_points_as_json(delivery.fixed_points),
        "window_start": f"{delivery.window_start:%H:%M}",
        "window_end": f"{delivery.window_end:%H:%M}",
    }


def _digest(delivery: Delivery) -> str:
    """The same for a row that says no more than it did before columns were added."""
    said = asdict(delivery)
    said["precautions"] = {**said["precautions"], Precaution.PROTECTIVE.value: said.pop("protective")}
    said = {name: value for name, value in said.items() if name not in NEWER or value != NEWER[name]}
    if delivery.fixed_points:
        said["fixed_points"] = fixed_points_as_json(delivery.fixed_points)
    return hashlib.sha256(json.dumps(said, sort_keys=True, default=str).encode()).hexdigest()
