"""Wear protocols from their dated TOML files, checked as they are read."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date
from functools import cache
from importlib.resources.abc import Traversable

from followup.clinical.load_precautions import load_precautions, precaution_dates
from followup.clinical.load_sources import CLINICAL, load_sources
from followup.clinical.protocol_faults import days_of, ends_in, find_faults, total_minutes
from followup.clinical.protocol_file import Fault, LadderTable, ProtocolFile, ThenTable, read_tables
from followup.core.step_shape import StepShape
from followup.core.wear_protocol import Growth, LadderStep, WearProtocol
from followup.errors import InvalidInput, UnknownId


def load_protocols(on: date | None = None) -> Mapping[str, WearProtocol]:
    """Each protocol by id as it stood on `on`, the newest of each without a date.

    A protocol first dated after `on` stands as its first dated form: its document was published before.
    """
    chosen: dict[str, WearProtocol] = {}
    for protocol in sorted(protocol_forms(), key=lambda each: (each.id, each.effective_on)):
        if protocol.id not in chosen or on is None or protocol.effective_on <= on:
            chosen[protocol.id] = protocol
    return {id: _with_rules(protocol, on) for id, protocol in chosen.items()}


def load_protocol_history() -> Mapping[date, Mapping[str, WearProtocol]]:
    """What `load_protocols` gives from each date on which a protocol or a rule of caution took effect."""
    dates = {each.effective_on for each in protocol_forms()} | set(precaution_dates())
    return {on: load_protocols(on) for on in sorted(dates)}


def find_protocol(id: str, on: date | None = None) -> WearProtocol:
    """The protocol called `id`; raises ``UnknownId`` that lists the ones there are."""
    protocols = load_protocols(on)
    if id not in protocols:
        raise UnknownId("unknown_protocol", f"Choose a protocol: {', '.join(protocols)}.", "protocol")
    return protocols[id]


@cache
def protocol_forms() -> tuple[WearProtocol, ...]:
    """Every dated form of every protocol, without rules of caution."""
    return read_forms(CLINICAL / "protocols")


def read_forms(folder: Traversable) -> tuple[WearProtocol, ...]:
    """The protocol of every TOML file in a folder; refused where two of them are the same form."""
    files = sorted(folder.iterdir(), key=lambda each: each.name)
    forms = {file.name: read_protocol(file, load_sources()) for file in files if file.name.endswith(".toml")}
    _only_once(forms)
    return tuple(forms.values())


@cache
def protocol_versions() -> tuple[WearProtocol, ...]:
    """Every dated form under every dated set of rules of caution, so that an old plan can be replayed by its digest."""
    return tuple(_with_rules(form, on) for form in protocol_forms() for on in precaution_dates())


def read_protocol(file: Traversable, sources: Mapping[str, Mapping[str, str]]) -> WearProtocol:
    """One protocol file, its source looked up in `sources`. Raises ``InvalidInput`` naming file, key and reason."""
    read = check_protocol(file, sources)
    if isinstance(read, WearProtocol):
        return read
    raise InvalidInput("bad_protocol", f"In {read[0].key or 'the file'}, {read[0].advice}.", _place(file, read[0]))


def check_protocol(file: Traversable, sources: Mapping[str, Mapping[str, str]]) -> WearProtocol | tuple[Fault, ...]:
    """The protocol a file describes, or everything that is wrong with it: its form first, then what it says."""
    try:
        raw = tomllib.loads(file.read_text("utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        return (Fault("", f"write TOML in UTF-8: {error}"),)
    tables = read_tables(raw)
    if not isinstance(tables, ProtocolFile):
        return tables
    faults = tuple(find_faults(tables, tuple(sources)))
    return faults or _make_protocol(tables, sources[tables.source])


def _place(file: Traversable, fault: Fault) -> str:
    return f"{file.name}: {fault.key}" if fault.key else file.name


def _with_rules(protocol: WearProtocol, on: date | None) -> WearProtocol:
    return replace(protocol, tightening=load_precautions(on))


def _only_once(forms: Mapping[str, WearProtocol]) -> None:
    seen: dict[tuple[str, date], str] = {}
    for name, form in forms.items():
        other = seen.setdefault((form.id, form.effective_on), name)
        if other != name:
            message = f"In effective_on, write another date: {other} has {form.id} from {form.effective_on} too."
            raise InvalidInput("bad_protocol", message, f"{name}: effective_on")


def _make_protocol(tables: ProtocolFile, source: Mapping[str, str]) -> WearProtocol:
    full = tables.full_wear
    return WearProtocol(
        id=tables.id,
        title=tables.title,
        source=f"{source['publisher']}, {source['title']}, {source['year']}",
        source_key=tables.source,
        grade=source["grade"],
        effective_on=tables.effective_on,
        whom=tables.whom,
        mark_limit_minutes=tables.mark_limit_minutes,
        mark_limit_source=tables.mark_limit_source,
        ladder=tuple(_ladder_steps(tables.ladder)),
        growth=_growth(tables.then, tables.ladder[-1]) if isinstance(tables.then, ThenTable) else None,
        ends_in=ends_in(tables),
        full_wear_minutes=full.minutes,
        full_wear_shape=StepShape(removals=full.removals) if full.removals else None,
        looks=tables.looks,
        discomfort=tables.discomfort.do,
        smaller_step_minutes=tables.discomfort.smaller_step_minutes,
        call_after_days=tables.discomfort.call_after_days,
        written_for=tables.written_for,
    )


def _ladder_steps(rows: tuple[LadderTable, ...]) -> Iterable[LadderStep]:
    for row, (days, _) in zip(rows, days_of(rows), strict=True):
        shape = StepShape(row.periods, row.on, row.off, row.nights, row.removals, row.rest_days)
        yield LadderStep(total_minutes(row), days, shape, row.when)


def _growth(then: ThenTable, last: LadderTable) -> Growth:
    low, high = then.add_minutes or then.add_minutes_each or (0, 0)
    count = last.periods if then.add_minutes_each else 1
    limit = {} if then.until_minutes is None else {"until_minutes": then.until_minutes}
    return Growth((low * count, high * count), 2 if then.double else 1, **limit)
