"""Durations, clock times, days and lists as they are said to people, in English and Spanish."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, time

LANGUAGES = ("en", "es")

_WEEKDAYS = {
    "en": ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"),
    "es": ("lunes", "martes", "miércoles", "jueves", "viernes", "sábado", "domingo"),
}
_MONTHS = {
    "en": (
        *("January", "February", "March", "April", "May", "June"),
        *("July", "August", "September", "October", "November", "December"),
    ),
    "es": (
        *("enero", "febrero", "marzo", "abril", "mayo", "junio"),
        *("julio", "agosto", "septiembre", "octubre", "noviembre", "diciembre"),
    ),
}
_MINUTES = {"en": ("minute", "minutes"), "es": ("minuto", "minutos")}
_HOURS = {"en": ("hour", "hours"), "es": ("hora", "horas")}
_AND = {"en": "and", "es": "y"}


def duration(minutes: int, language: str) -> str:
    """Minutes as a label: ``30 minutes``, ``2 h``, ``1 h 30``."""
    hours, rest = divmod(minutes, 60)
    if not hours:
        return f"{rest} {_MINUTES[language][rest != 1]}"
    return f"{hours} h {rest:02d}" if rest else f"{hours} h"


def duration_in_words(minutes: int, language: str) -> str:
    """Minutes for a sentence or a heading: ``30 minutes``, ``2 hours``, ``1 hour 30``."""
    hours, rest = divmod(minutes, 60)
    if not hours:
        return duration(minutes, language)
    said = f"{hours} {_HOURS[language][hours != 1]}"
    return f"{said} {rest:02d}" if rest else said


def clock_time(moment: time | datetime) -> str:
    """A local time as a clock shows it, 24 hours, no leading zero: ``9:00``, ``15:30``."""
    return f"{moment.hour}:{moment.minute:02d}"


def weekday(day: date, language: str) -> str:
    """``Friday``, ``viernes``."""
    return _WEEKDAYS[language][day.weekday()]


def day_and_time(moment: datetime, today: date, language: str) -> str:
    """A local deadline: ``16:00`` when it is today, ``Friday 10:00`` within six days, else ``12 June, 10:00``."""
    away = (moment.date() - today).days
    if away == 0:
        return clock_time(moment)
    named = weekday(moment, language) if 0 < away < 7 else f"{day_and_month(moment, language)},"
    return f"{named} {clock_time(moment)}"


def day_and_month(day: date, language: str) -> str:
    """``12 June``, ``12 de junio``."""
    month = _MONTHS[language][day.month - 1]
    return f"{day.day} de {month}" if language == "es" else f"{day.day} {month}"


def full_date(day: date, language: str) -> str:
    """``Friday 12 June``, ``viernes 12 de junio``."""
    return f"{weekday(day, language)} {day_and_month(day, language)}"


def listed(items: Sequence[str], language: str) -> str:
    """``9:00``, ``9:00 and 15:00``, ``9:00, 12:00 and 15:00``; empty for none."""
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} {_AND[language]} {items[-1]}"
