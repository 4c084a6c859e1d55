"""How the minutes of a wear step lie in the day, as a published table says it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class StepShape:
    """The division of a day's wear; with nothing stated, as a day is usually divided.

    `periods`: so many equal ones. `on` and `off`: shortest and longest minutes of a stretch and of the break after it,
    repeated over the window. `nights`: the night is worn as well. `removals`: no ramp, worn all the time and taken off
    at least and at most so many times a day for the skin. `rest_days`: days without wear after each worn one.
    """

    periods: int = 0
    on: tuple[int, int] | None = None
    off: tuple[int, int] | None = None
    nights: bool = False
    removals: tuple[int, int] | None = None
    rest_days: int = 0


USUAL_SHAPE = StepShape()


@dataclass(frozen=True, slots=True)
class WearStep:
    """One step of the ladder: minutes a day in all, lowest and highest, and how they lie."""

    low_minutes: int
    high_minutes: int
    shape: StepShape = USUAL_SHAPE
