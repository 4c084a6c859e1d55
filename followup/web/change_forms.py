"""The forms that change a plan: one small form each, and what each one says once it is filled in."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, time

from followup.core.fixed_points import EXAMPLE, read_fixed_points, write_fixed_points
from followup.core.plan_event import (
    Away,
    AwayReason,
    Back,
    ClinicianDecision,
    DecisionKind,
    GoalChange,
    OrthosisChange,
    OrthosisChanged,
    PlanEnd,
    PlanEnding,
    ProtocolChange,
    ZoneChange,
)
from followup.core.wear_protocol import WearProtocol
from followup.core.wearing_goal import RangeEnd
from followup.errors import InvalidInput
from followup.services.check_change import Change
from followup.services.see_change import PlanStanding
from followup.web.delivery_fields import ZONE_HINT, FormField, choices_of
from followup.web.forms import Choice, Form, read_date

FROM_ON = FormField("from_on", "From which day", "date", short=True)
KNOWINGLY = FormField(
    "knowingly",
    "It protects a fracture or a repair",
    "checks",
    (Choice("yes", "I change the wear of a protective orthosis knowingly"),),
)
WHY = FormField("why", "Why", "area", hint="One sentence; it is kept with your name.")
AWAY_WORDS = {"hospital": "In hospital", "travel": "On a journey", "illness": "Ill at home"}
ORTHOSIS_WORDS = {
    "adjusted": "It was adjusted",
    "remade": "It was remade",
    "loan": "A loan was handed out in its place",
    "repaired": "It was repaired and is as before",
    "returned_unchanged": "It came back as it was",
}
END_WORDS = {
    "transferred": "Another practice goes on with it",
    "withdrawn": "They go on without us",
    "died": "The wearer has died",
}
Read = Callable[[Form, PlanStanding, Mapping[str, WearProtocol]], Change]


@dataclass(frozen=True, slots=True)
class ChangeForm:
    """One form. `link` leads to it from the wearer's page; `read` is None for the start step, no change by itself."""

    name: str
    link: str
    heading: str
    lead: str
    fields: Callable[[PlanStanding, Mapping[str, WearProtocol]], tuple[FormField, ...]]
    read: Read | None
    offered: Callable[[PlanStanding], bool]
    clinician: bool = False
    previews: bool = False
    caution: str = ""


def _away_fields(standing: PlanStanding, protocols: Mapping[str, WearProtocol]) -> tuple[FormField, ...]:
    return FormField("why", "Where they are", "radios", choices_of(AwayReason, AWAY_WORDS)), FROM_ON


def _read_away(form: Form, standing: PlanStanding, protocols: Mapping[str, WearProtocol]) -> Change:
    return Away(AwayReason(_chosen(form, "why", AWAY_WORDS, "Choose where they are")), _from_on(form))


def _read_back(form: Form, standing: PlanStanding, protocols: Mapping[str, WearProtocol]) -> Change:
    return Back(_from_on(form))


def _orthosis_fields(standing: PlanStanding, protocols: Mapping[str, WearProtocol]) -> tuple[FormField, ...]:
    return (FormField("what", "What was done", "radios", choices_of(OrthosisChange, ORTHOSIS_WORDS)),)


def _read_orthosis(form: Form, standing: PlanStanding, protocols: Mapping[str, WearProtocol]) -> Change:
    what = _chosen(form, "what", ORTHOSIS_WORDS, "Choose what was done")
    return OrthosisChanged(OrthosisChange(what), standing.today)


def _protocol_fields(standing: PlanStanding, protocols: Mapping[str, WearProtocol]) -> tuple[FormField, ...]:
    others = tuple(
        Choice(id, f"{each.title} ({each.source_key})")
        for id, each in sorted(protocols.items())
        if id != standing.protocol_id
    )
    step = FormField(
        "step",
        "At which step",
        hint="Empty: the highest step that gives no more time than the last clear one.",
        short=True,
    )
    return (
        FormField("protocol", "Wear protocol", "select", others),
        FROM_ON,
        step,
        *([KNOWINGLY] if standing.protective else []),
    )


def _read_protocol(form: Form, standing: PlanStanding, protocols: Mapping[str, WearProtocol]) -> Change:
    id = _chosen(form, "protocol", protocols, "Choose a wear protocol")
    step = form.text("step")
    return ProtocolChange(id, protocols[id].digest, _from_on(form), "", _whole(step, "step") if step else None)


def _hours_fields(standing: PlanStanding, protocols: Mapping[str, WearProtocol]) -> tuple[FormField, ...]:
    ends = (Choice("low", "The lower end"), Choice("high", "The upper end"))
    return (
        FormField("window", "Part of the day", hint="Write two times such as 07:30-21:30.", short=True),
        FormField(
            "fixed_points", "Fixed points of the day", hint=f"Leave it empty for none, or write such as {EXAMPLE}."
        ),
        FormField(
            "full_wear_minutes", "Full wear, in minutes a day", hint="Only a clinician changes this.", short=True
        ),
        FormField("range_end", "Where the protocol gives a range, aim at", "select", ends, "Only a clinician, too."),
        FROM_ON,
        *([KNOWINGLY] if standing.protective else []),
    )


def hours_now(standing: PlanStanding) -> dict[str, tuple[str, ...]]:
    """The wearing goal in force as the form of the hours writes it."""
    goal = standing.goal
    return {
        "window": (f"{goal.window_start:%H:%M}-{goal.window_end:%H:%M}",),
        "fixed_points": (write_fixed_points(goal.fixed_points),),
        "full_wear_minutes": (str(goal.full_wear_minutes),),
        "range_end": (goal.range_end.value,),
    }


def _read_hours(form: Form, standing: PlanStanding, protocols: Mapping[str, WearProtocol]) -> Change:
    """What differs from the goal in force; the rest stays as it is."""
    now = hours_now(standing)
    changed = {name for name, (value,) in now.items() if form.text(name) != value}
    start, end = _window(form.text("window")) if "window" in changed else (None, None)
    try:
        points = read_fixed_points(form.text("fixed_points")) if "fixed_points" in changed else None
    except ValueError as error:
        raise InvalidInput("bad_points", f"What you wrote {error}.".replace("'", "’"), "fixed_points") from None
    minutes = _whole(form.text("full_wear_minutes"), "full_wear_minutes") if "full_wear_minutes" in changed else None
    range_end = _chosen(form, "range_end", set(RangeEnd), "Choose an end") if "range_end" in changed else None
    return GoalChange(_from_on(form), "", minutes, start, end, RangeEnd(range_end) if range_end else None, points)


def _zone_fields(standing: PlanStanding, protocols: Mapping[str, WearProtocol]) -> tuple[FormField, ...]:
    return FormField("zone", "Time zone", hint=ZONE_HINT), FROM_ON


def _read_zone(form: Form, standing: PlanStanding, protocols: Mapping[str, WearProtocol]) -> Change:
    return ZoneChange(form.text("zone"), _from_on(form))


def _start_fields(standing: PlanStanding, protocols: Mapping[str, WearProtocol]) -> tuple[FormField, ...]:
    return FormField("step", "The step to start with", "steps"), WHY, *([KNOWINGLY] if standing.protective else [])


def _decision_fields(standing: PlanStanding, protocols: Mapping[str, WearProtocol]) -> tuple[FormField, ...]:
    hint = f"Now it is {standing.mark_limit_minutes}."
    return FormField("minutes", "How long a mark may last, in minutes", hint=hint, short=True), WHY, FROM_ON


def _read_decision(form: Form, standing: PlanStanding, protocols: Mapping[str, WearProtocol]) -> Change:
    minutes = _whole(form.text("minutes"), "minutes")
    return ClinicianDecision(DecisionKind.MARK_LIMIT, _from_on(form), form.text("why"), "", minutes)


def _end_fields(standing: PlanStanding, protocols: Mapping[str, WearProtocol]) -> tuple[FormField, ...]:
    return FormField("why", "Why it ends", "radios", choices_of(PlanEnding, END_WORDS)), FROM_ON


def _read_end(form: Form, standing: PlanStanding, protocols: Mapping[str, WearProtocol]) -> Change:
    return PlanEnd(PlanEnding(_chosen(form, "why", END_WORDS, "Choose why it ends")), _from_on(form))


def _chosen(form: Form, name: str, allowed: Mapping[str, object] | set[RangeEnd], message: str) -> str:
    if form.text(name) not in allowed:
        raise InvalidInput("not_chosen", message, name)
    return form.text(name)


def _from_on(form: Form) -> date:
    found = read_date(form, "from_on")
    if found is None:
        raise InvalidInput("bad_date", "Write from which day, as a date such as 2026-05-15", "from_on")
    return found


def _whole(text: str, name: str) -> int:
    if not (text.isascii() and text.isdecimal() and len(text) < 5):
        raise InvalidInput("bad_number", f"“{text}” is no whole number; write one such as 60", name)
    return int(text)


def _window(text: str) -> tuple[time, time]:
    try:
        start, end = (time.fromisoformat(each.strip().rjust(5, "0")) for each in text.split("-"))
    except ValueError:
        raise InvalidInput(
            "bad_window", f"“{text}” is not a part of the day; write it as 07:30-21:30", "window"
        ) from None
    return start, end


def _runs(standing: PlanStanding) -> bool:
    return standing.started and not standing.ended_why


CHANGE_FORMS: tuple[ChangeForm, ...] = (
    ChangeForm(
        "away",
        "They go away",
        "They go away",
        "The plan rests and no messages are sent until they are back and a clinician has spoken to them.",
        _away_fields,
        _read_away,
        lambda standing: _runs(standing) and not standing.away,
    ),
    ChangeForm(
        "back",
        "They are back",
        "They are back",
        "A clinician rings by the next working day and says how to go on; until then the plan waits.",
        lambda standing, protocols: (FROM_ON,),
        _read_back,
        lambda standing: _runs(standing) and standing.away,
    ),
    ChangeForm(
        "orthosis",
        "The orthosis was changed or came back",
        "What was done to the orthosis",
        "After an adjustment, a remake or a loan the delivery checks are made again, and then a clinician says the "
        "step to start with. Until then the plan waits. Only a clinician records these three.",
        _orthosis_fields,
        _read_orthosis,
        lambda standing: _runs(standing) and standing.waits_for is None,
    ),
    ChangeForm(
        "hours",
        "Other hours of the day or fixed points",
        "The hours of the day",
        "Change what is to be otherwise and leave the rest. Days already issued stay as they are.",
        _hours_fields,
        _read_hours,
        _runs,
        previews=True,
    ),
    ChangeForm(
        "zone",
        "Another time zone",
        "They live by other clocks",
        "From that day on the times are those of the new zone.",
        _zone_fields,
        _read_zone,
        _runs,
    ),
    ChangeForm(
        "protocol",
        "Another protocol",
        "Another wear protocol",
        "The plan goes on under the other protocol. Days already issued stay as they are.",
        _protocol_fields,
        _read_protocol,
        _runs,
        clinician=True,
        previews=True,
    ),
    ChangeForm(
        "start",
        "The step to start with",
        "The step to start with",
        "Said by a clinician: after a change of the orthosis, once the delivery checks were made again; or for one "
        "that replaces another, before its checks are done.",
        _start_fields,
        None,
        lambda standing: (
            not standing.ended_why
            and (standing.waits_for is not None or (not standing.started and bool(standing.replaces)))
        ),
        clinician=True,
        previews=True,
    ),
    ChangeForm(
        "decision",
        "How long a mark may last",
        "How long a mark may last",
        "A decision against a rule of caution. It is kept with your name and the reason.",
        _decision_fields,
        _read_decision,
        _runs,
        clinician=True,
        previews=True,
    ),
    ChangeForm(
        "end",
        "End the plan",
        "End the plan",
        "",
        _end_fields,
        _read_end,
        lambda standing: not standing.ended_why,
        caution="This ends the plan for good: its messages, the family’s page and their calendar. The family is told "
        "once. After a death every plan of the wearer ends and nothing is ever sent.",
    ),
)
