"""A form as it was sent, checked by hand so that every fault is told in words beside its field."""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date

from starlette.requests import Request

MOST_BYTES = 8_000
"""The longest single answer that is read, in bytes."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer that can be chosen: what is sent, what is read, and a softer second line."""

    value: str
    label: str
    small: str = ""


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with one field and what to write; `field` is the id the page links to, empty for none."""

    field: str
    message: str


@dataclass(frozen=True, slots=True)
class Form:
    """What was sent, by field, and what was found wrong with it."""

    sent: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    faults: tuple[Fault, ...] = ()

    def text(self, name: str) -> str:
        """The last value sent for a field without surrounding space, empty where none was."""
        return self.sent[name][-1].strip() if self.sent.get(name) else ""

    def all(self, name: str) -> tuple[str, ...]:
        """Every value sent for a field."""
        return self.sent.get(name, ())

    def fault(self, name: str) -> str:
        """What is wrong with a field, empty for nothing."""
        return next((each.message for each in self.faults if each.field == name), "")

    def with_faults(self, faults: Iterable[Fault]) -> Form:
        """The same form with these faults told beside its fields."""
        return replace(self, faults=tuple(faults))

    def row(self) -> dict[str, str]:
        """The fields as one row of text; several values of one field are joined by a space."""
        return {name: " ".join(values).strip() for name, values in self.sent.items()}


async def read_form(request: Request, most_fields: int = 20) -> Form:
    """The fields of a posted form; files are ignored, and too many or too long ones are answered with 400."""
    sent: dict[str, tuple[str, ...]] = {}
    async with request.form(max_fields=most_fields, max_files=1, max_part_size=MOST_BYTES) as data:
        for name, value in data.multi_items():
            if isinstance(value, str):
                sent[name] = (*sent.get(name, ()), value.replace("\x00", ""))
    return Form(sent)


def needed(form: Form, name: str, message: str) -> list[Fault]:
    """A fault where nothing was written."""
    return [] if form.text(name) else [Fault(name, message)]


def one_of(form: Form, name: str, allowed: Container[str], message: str) -> list[Fault]:
    """A fault where the answer is missing or not one that can be given."""
    return [] if form.text(name) in allowed else [Fault(name, message)]


def read_date(form: Form, name: str) -> date | None:
    """The date written as 2026-05-14, None where it is not one."""
    try:
        return date.fromisoformat(form.text(name))
    except ValueError:
        return None
