"""What a wear protocol file may say: its tables and keys, each with what to write where it is wrong."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Annotated, Any, Literal, NamedTuple

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    PlainValidator,
    StrictBool,
    StrictInt,
    StringConstraints,
    ValidationError,
)

from followup.core.precaution import Precaution
from followup.core.wear_protocol import Discomfort, LadderEnd, LookKind
from followup.core.wearing_goal import DAY_MINUTES, Activity

FULL_WEAR = "full_wear"
Pair = tuple[int, int]


class Fault(NamedTuple):
    """One thing that is wrong in a file: the key, and what to write."""

    key: str
    advice: str


def _read_band(value: object) -> Pair:
    """Lowest and highest minutes; full wear is a whole day, which the wearing goal caps."""
    if value == FULL_WEAR:
        return DAY_MINUTES, DAY_MINUTES
    if isinstance(value, list) and value[1:] == [FULL_WEAR]:
        value = [value[0], DAY_MINUTES]
    if not (isinstance(value, list) and len(value) == 2 and all(_whole(each, 1, DAY_MINUTES) for each in value)):
        raise ValueError('write [lowest, highest] in whole minutes, such as [30, 60], or "full_wear" for the highest')
    if value[0] > value[1]:
        raise ValueError("write the lower number first, such as [30, 60]")
    return value[0], value[1]


def _read_span(value: object) -> int | Pair:
    """How many, or the first and the last as printed."""
    if _whole(value, 1, 366):
        return int(str(value))
    span = isinstance(value, list) and len(value) == 2 and all(_whole(each, 1, 366) for each in value)
    if isinstance(value, list) and span and value[0] <= value[1]:
        return value[0], value[1]
    raise ValueError("write how many, such as 7, or the first and the last as printed, such as [1, 3]")


def _read_times(value: object) -> Pair:
    if not (isinstance(value, list) and len(value) == 2 and all(_whole(each, 1, 12) for each in value)):
        raise ValueError("write [fewest, most] times a day, such as [2, 3]")
    if value[0] > value[1]:
        raise ValueError("write the lower number first, such as [2, 3]")
    return value[0], value[1]


def _whole(value: object, lowest: int, highest: int) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and lowest <= value <= highest


Band = Annotated[Pair, PlainValidator(_read_band)]
Span = Annotated[int | Pair, PlainValidator(_read_span)]
Times = Annotated[Pair, PlainValidator(_read_times)]
Words = Annotated[str, StringConstraints(strict=True, strip_whitespace=True, min_length=1)]


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class LadderTable(_Table):
    """One `[[ladder]]` table: for which days it stands, how long it is worn, and how that lies in the day."""

    days: Span | None = None
    weeks: Span | None = None
    sessions: StrictInt | None = Field(None, ge=1, le=366)
    when: Activity | None = None
    minutes: Band | None = None
    minutes_each: Band | None = None
    periods: StrictInt = Field(0, ge=0, le=12)
    on: Band | None = None
    off: Band | None = None
    nights: StrictBool = False
    removals: Times | None = None
    rest_days: StrictInt = Field(0, ge=0, le=6)


class ThenTable(_Table):
    """The `[then]` table: how each further step grows, until when, and what comes after that."""

    add_minutes: Band | None = None
    add_minutes_each: Band | None = None
    double: StrictBool = False
    until_minutes: StrictInt | None = Field(default=None, ge=1, le=DAY_MINUTES)
    after: LadderEnd | None = None


class DiscomfortTable(_Table):
    """The `[discomfort]` table: what the document says to do about it."""

    do: Discomfort = Discomfort.SHORTER
    smaller_step_minutes: StrictInt | None = Field(default=None, ge=1, le=240)
    call_after_days: StrictInt | None = Field(default=None, ge=1, le=60)


class FullWearTable(_Table):
    """The `[full_wear]` table: what the document calls full wear, where it says so."""

    minutes: StrictInt | None = Field(default=None, ge=1, le=DAY_MINUTES)
    removals: Times | None = None


class ProtocolFile(_Table):
    """A whole file."""

    id: Annotated[str, StringConstraints(strict=True, pattern=r"^[a-z][a-z0-9_]*$")]
    effective_on: date = Field(strict=True)
    source: Words
    title: Words
    whom: Words
    mark_limit_minutes: StrictInt = Field(ge=1, le=120)
    mark_limit_source: Words
    looks: tuple[LookKind, ...] = Field(min_length=1)
    ladder: tuple[LadderTable, ...] = Field(min_length=1)
    then: ThenTable | LadderEnd | None = None
    written_for: frozenset[Precaution] = frozenset()
    discomfort: DiscomfortTable = DiscomfortTable()
    full_wear: FullWearTable = FullWearTable()
    off_plan: Literal["repeat_last_day"] = "repeat_last_day"


_ADVICE = {
    "id": "write the name of the file in small letters and digits, such as s01",
    "effective_on": "write a date such as 2026-01-01, without quotes",
    "source": "write the key of a row in the sources, such as S01",
    "title": "say in one line what the schedule is",
    "whom": "say for whom the document was written",
    "mark_limit_minutes": "write whole minutes from 1 to 120",
    "mark_limit_source": "write the key of the row in the sources that states the mark limit",
    "looks": "write a list of some of: " + ", ".join(LookKind),
    "ladder": "write one [[ladder]] table or more",
    "then": 'write then = "clinician" or "full_wear", or a [then] table',
    "written_for": "write a list of precautions, such as reduced_sensation",
    "off_plan": 'write "repeat_last_day", or leave the key out',
    "sessions": "write how many sessions, as a whole number from 1",
    "when": "write one of: " + ", ".join(Activity),
    "periods": "write how many equal periods a day, from 1 to 12",
    "nights": "write true where the night is worn too, or leave the key out",
    "rest_days": "write how many days off follow each day of wear, from 0 to 6",
    "double": "write true, or leave the key out",
    "until_minutes": "write whole minutes a day, such as 240",
    "after": "write one of: " + ", ".join(LadderEnd),
    "do": "write one of: " + ", ".join(Discomfort),
    "smaller_step_minutes": "write whole minutes from 1 to 240",
    "call_after_days": "write whole days from 1 to 60",
    "minutes": "write whole minutes a day, such as 1380",
}


def read_tables(raw: Mapping[str, Any]) -> ProtocolFile | tuple[Fault, ...]:
    """The tables of a file, or everything about their form that is wrong."""
    try:
        return ProtocolFile.model_validate(raw)
    except ValidationError as error:
        faults = [_fault_of(each) for each in error.errors(include_url=False)]
        return tuple({fault.key: fault for fault in reversed(faults)}.values())[::-1]


def _fault_of(error: Any) -> Fault:
    key = key_of(error["loc"])
    name = key.rpartition(".")[2]
    if error["type"] == "extra_forbidden":
        return Fault(key, "take this key out, or correct its spelling")
    if error["type"] == "missing":
        return Fault(key, f"state this key: {_ADVICE.get(name, '')}".removesuffix(": "))
    reason = error.get("ctx", {}).get("error") if error["type"] == "value_error" else None
    return Fault(key, str(reason or _ADVICE.get(name, error["msg"])))


def key_of(place: tuple[int | str, ...]) -> str:
    """A key as people count: `ladder.2.minutes` is in the second `[[ladder]]` table."""
    parts = [str(each + 1) if isinstance(each, int) else each for each in place]
    return ".".join(each for each in parts if each not in ("ThenTable", "LadderEnd") and "[" not in each)
