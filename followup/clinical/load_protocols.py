"""Wear protocols from their dated TOML files, checked as they are read."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date
from importlib.resources.abc import Traversable
from itertools import pairwise
from typing import Any

from followup.clinical.load_precautions import load_precautions, precaution_dates
from followup.clinical.load_sources import CLINICAL, load_sources
from followup.core.wear_protocol import LadderStep, LookKind, WearProtocol
from followup.errors import InvalidInput, UnknownId

_KNOWN = {
    "id",
    "effective_on",
    "source",
    "title",
    "whom",
    "mark_limit_minutes",
    "mark_limit_source",
    "looks",
    "ladder",
    "then",
}


def load_protocols(on: date | None = None) -> Mapping[str, WearProtocol]:
    """Each protocol by id as it stood on `on`, the newest of each without a date.

    A protocol first dated after `on` stands as its first dated form: its document was published before.
    """
    chosen: dict[str, WearProtocol] = {}
    for protocol in sorted(protocol_versions(), key=lambda each: (each.id, each.effective_on)):
        if protocol.id not in chosen or on is None or protocol.effective_on <= on:
            chosen[protocol.id] = protocol
    rules = load_precautions(on)
    return {id: replace(protocol, tightening=rules) for id, protocol in chosen.items()}


def load_protocol_history() -> Mapping[date, Mapping[str, WearProtocol]]:
    """What `load_protocols` gives from each date on which a protocol or a rule of caution took effect."""
    dates = {each.effective_on for each in protocol_versions()} | set(precaution_dates())
    return {on: load_protocols(on) for on in sorted(dates)}


def find_protocol(id: str, on: date | None = None) -> WearProtocol:
    """The protocol called `id`; raises ``UnknownId`` that lists the ones there are."""
    protocols = load_protocols(on)
    if id not in protocols:
        raise UnknownId("unknown_protocol", f"Choose a protocol: {', '.join(protocols)}.", "protocol")
    return protocols[id]


def protocol_versions() -> tuple[WearProtocol, ...]:
    """Every dated form of every protocol, so that an old plan can be replayed by its digest."""
    sources = load_sources()
    folder = sorted((CLINICAL / "protocols").iterdir(), key=lambda each: each.name)
    return tuple(read_protocol(file, sources) for file in folder if file.name.endswith(".toml"))


def read_protocol(file: Traversable, sources: Mapping[str, Mapping[str, str]]) -> WearProtocol:
    """One protocol file, its source looked up in `sources`. Raises ``InvalidInput`` naming file and field."""
    raw = tomllib.loads(file.read_text("utf-8"))
    _check(raw, file.name, sources)
    add_low, add_high = raw["then"]["add_minutes"]
    source = sources[raw["source"]]
    return WearProtocol(
        id=raw["id"],
        title=raw["title"],
        source=f"{source['publisher']}, {source['title']}, {source['year']}",
        source_key=raw["source"],
        grade=source["grade"],
        effective_on=raw["effective_on"],
        whom=raw["whom"],
        mark_limit_minutes=raw["mark_limit_minutes"],
        mark_limit_source=raw["mark_limit_source"],
        ladder=tuple(_step(each) for each in raw["ladder"]),
        add_low_minutes=add_low,
        add_high_minutes=add_high,
        looks=tuple(LookKind(each) for each in raw["looks"]),
    )


def _step(raw: Mapping[str, Any]) -> LadderStep:
    low, high = raw["minutes"]
    return LadderStep(low, high, raw.get("days", 1))


def _check(raw: Mapping[str, Any], name: str, sources: Mapping[str, object]) -> None:
    _same_names(raw, name)
    if type(raw["effective_on"]) is not date:
        raise _wrong(name, "effective_on", "write a date such as 2026-01-01")
    for key in ("source", "mark_limit_source"):
        if raw[key] not in sources:
            raise _wrong(name, key, "write the key of a row in sources.toml")
    if not _whole(raw["mark_limit_minutes"], 1, 120):
        raise _wrong(name, "mark_limit_minutes", "write whole minutes from 1 to 120")
    if not raw["looks"] or not set(raw["looks"]) <= set(LookKind):
        raise _wrong(name, "looks", "write some of: " + ", ".join(LookKind))
    _check_ladder(raw, name)


def _same_names(raw: Mapping[str, Any], name: str) -> None:
    missing, unknown = _KNOWN - set(raw), set(raw) - _KNOWN
    if missing or unknown:
        field = min(missing or unknown)
        raise _wrong(name, field, "state this field" if missing else "take this field out")


def _check_ladder(raw: Mapping[str, Any], name: str) -> None:
    bands = [each.get("minutes") for each in raw["ladder"]]
    if not bands or not all(_is_band(each) for each in bands):
        raise _wrong(name, "ladder", "write minutes = [low, high] for every step, low not above high")
    if not _rises(bands):
        raise _wrong(name, "ladder", "write steps that never fall")
    if not all(_whole(each.get("days", 1), 1, 366) for each in raw["ladder"]):
        raise _wrong(name, "ladder", "write days as a whole number from 1")
    if not _is_band(raw["then"].get("add_minutes")):
        raise _wrong(name, "then", "write add_minutes = [low, high], low not above high")


def _rises(bands: Iterable[list[int]]) -> bool:
    return all(low <= next_low and high <= next_high for (low, high), (next_low, next_high) in pairwise(bands))


def _is_band(value: object) -> bool:
    return (
        isinstance(value, list)
        and len(value) == 2
        and all(_whole(each, 1, 1440) for each in value)
        and value == sorted(value)
    )


def _whole(value: object, lowest: int, highest: int) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and lowest <= value <= highest


def _wrong(name: str, field: str, advice: str) -> InvalidInput:
    return InvalidInput("bad_protocol", f"In {field}, {advice}.", f"{name}: {field}")
