"""The rules of caution from their dated TOML file: what each precaution asks of a wear plan."""

from __future__ import annotations

import tomllib
from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import date
from functools import cache
from importlib.resources.abc import Traversable
from typing import Any

from pydantic import BaseModel, ConfigDict, Field, StrictBool, StrictInt, ValidationError, model_validator

from followup.clinical.load_sources import CLINICAL, load_sources
from followup.core.precaution import Precaution
from followup.core.tightening import Ask, Tightening
from followup.errors import InvalidInput

FILE = "precautions.toml"
NO_DOCUMENT = "T"
_WITH_MINUTES = (Ask.MARK_LIMIT, Ask.LOOK_WHILE_ON)


class PrecautionRow(BaseModel):
    """One `[[rule]]` of the file, as it must be written."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    id: str = Field(pattern=r"^[a-z][a-z0-9_]*$")
    precautions: tuple[Precaution, ...] = Field(min_length=1)
    asks: Ask
    effective_on: date = Field(strict=True)
    source: str = ""
    says: str = ""
    ours: str = ""
    minutes: StrictInt = Field(0, ge=0, le=120)
    until_day: StrictInt = Field(0, ge=0, le=60)
    withdrawn: StrictBool = False

    @model_validator(mode="after")
    def _whole(self) -> PrecautionRow:
        if bool(self.minutes) != (self.asks in _WITH_MINUTES):
            raise ValueError("state minutes for mark_limit and look_while_on, and for nothing else")
        if bool(self.until_day) != (self.asks is Ask.LOOK_WHILE_ON):
            raise ValueError("state until_day for look_while_on, and for nothing else")
        if not (self.says if self.source else self.ours):
            raise ValueError("state what the source says; without a source, what is common practice, in ours")
        return self


@cache
def load_precautions(on: date | None = None) -> tuple[Tightening, ...]:
    """The rules of caution as they stood on `on`, the newest without a date; before the first, the first ones."""
    sources = load_sources()
    return tuple(_rule(row, sources.get(row.source, {})) for row in in_force(read_rows(CLINICAL / FILE, sources), on))


@cache
def precaution_dates() -> tuple[date, ...]:
    """The days on which a rule of caution took effect, so that every set there ever was can be made again."""
    return tuple(sorted({row.effective_on for row in read_rows(CLINICAL / FILE, load_sources())}))


def in_force(rows: Sequence[PrecautionRow], on: date | None) -> tuple[PrecautionRow, ...]:
    """Of each rule its newest form on `on`, in the order of the file, without those withdrawn."""
    day = date.max if on is None else max(on, min(row.effective_on for row in rows))
    dated = sorted((row for row in rows if row.effective_on <= day), key=lambda row: row.effective_on)
    newest = {row.id: row for row in dated}
    return tuple(row for row in rows if row is newest.get(row.id) and not row.withdrawn)


def read_rows(file: Traversable, sources: Mapping[str, object]) -> tuple[PrecautionRow, ...]:
    """Every dated form of every rule of one file; raises ``InvalidInput`` naming the file, the key and the reason."""
    try:
        raw = tomllib.loads(file.read_text("utf-8"))
    except tomllib.TOMLDecodeError as error:
        raise _wrong(f"Write the file as TOML: {error}.", file.name) from error
    rules = raw.pop("rule", None)
    if raw or not isinstance(rules, list) or not rules:
        raise _wrong("Write [[rule]] tables, and nothing else.", file.name)
    rows = tuple(_read(each, file.name, sources) for each in rules)
    _only_once(rows, file.name)
    return rows


def _read(raw: Any, name: str, sources: Mapping[str, object]) -> PrecautionRow:
    id = str(raw.get("id", "")) if isinstance(raw, dict) else ""
    try:
        row = PrecautionRow.model_validate(raw)
    except ValidationError as error:
        fault = error.errors()[0]
        key = ".".join(filter(None, (id, *map(str, fault["loc"]))))
        raise _wrong(f"{fault['msg']}.", f"{name}: {key}" if key else name) from error
    if row.source and row.source not in sources:
        raise _wrong("Write the key of a row in the sources.", f"{name}: {id}.source")
    return row


def _only_once(rows: Sequence[PrecautionRow], name: str) -> None:
    counted = Counter((row.id, row.effective_on) for row in rows)
    for (id, effective_on), count in counted.items():
        if count > 1:
            raise _wrong(f"Two forms take effect on {effective_on}.", f"{name}: {id}")


def _wrong(reason: str, place: str) -> InvalidInput:
    return InvalidInput("bad_precaution", reason, place)


def _rule(row: PrecautionRow, source: Mapping[str, str]) -> Tightening:
    return Tightening(
        id=row.id,
        precautions=row.precautions,
        asks=row.asks,
        effective_on=row.effective_on,
        source=f"{source['publisher']}, {source['title']}, {source['year']}" if source else "",
        source_key=row.source,
        grade=source.get("grade", NO_DOCUMENT),
        says=row.says,
        ours=row.ours,
        minutes=row.minutes,
        until_day=row.until_day,
    )
