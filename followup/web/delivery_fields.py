"""The fields of the delivery form: the columns of the file of deliveries, in groups, with words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from followup.core.contact import LANGUAGES, Channel, Relation
from followup.core.delivery import ORTHOSIS_COLUMNS
from followup.core.fixed_points import EXAMPLE
from followup.core.orthosis import WalkingAid
from followup.core.precaution import Precaution, WithoutOrthosis
from followup.core.wear_protocol import WearProtocol
from followup.core.wearing_goal import Activity
from followup.web.forms import Choice, Fault, Form
from followup.web.staff_words import PRECAUTIONS, WITHOUT, upper_first

ZONE_HINT = "Continent and city, such as Europe/Lisbon."
POINTS_HINT = f"Leave it empty, or write such as {EXAMPLE}."
CHECKER_HINT = "Only where it is not the one on duty below."
ACTIVITIES = {"mostly_on_feet": "Mostly standing or walking", "on_and_off": "Walking on and off"}
CHOSEN = {"select", "radios"}
TIME_ZONES = {"zone", "contact1_zone", "contact2_zone"}
YES_NO = (Choice("yes", "Yes"), Choice("no", "No"))
LANGUAGE_NAMES = {"en": "English", "es": "Spanish"}
ASKED_PRECAUTIONS = tuple(each for each in Precaution if each is not Precaution.PROTECTIVE)
LABELS: Mapping[str, str] = {
    "side": "Side",
    "shell": "The shell lies",
    "strut": "The strut is",
    "strut_position": "The strut passes the ankle",
    "material": "Material",
    "footplate": "The footplate reaches",
    "heel": "The heel is",
    "fastening": "It is closed with",
}


@dataclass(frozen=True, slots=True)
class FormField:
    """One field. `kind` is an input type, ``select``, ``radios`` or ``precautions``."""

    name: str
    label: str
    kind: str = "text"
    choices: tuple[Choice, ...] = ()
    hint: str = ""
    short: bool = False


@dataclass(frozen=True, slots=True)
class FieldGroup:
    """Fields under one heading."""

    id: str
    heading: str
    fields: tuple[FormField, ...]
    words: str = ""


def choices_of(values: Iterable[str], words: Mapping[str, str] | None = None) -> tuple[Choice, ...]:
    """Values as choices, in plain words."""
    named = words or {}
    return tuple(Choice(str(each), named.get(str(each), upper_first(str(each).replace("_", " ")))) for each in values)


def delivery_groups(protocols: Mapping[str, WearProtocol]) -> tuple[FieldGroup, ...]:
    """The whole form."""
    return (_wearer(), _careful(), _orthosis(), _plan(protocols), _contact(1), _contact(2))


def _wearer() -> FieldGroup:
    without = {each.value: words for each, words in WITHOUT.items()}
    return FieldGroup(
        "wearer",
        "The wearer",
        (
            FormField("wearer_name", "Name"),
            FormField("wearer_reference", "Reference", hint="The number or short name the practice files under."),
            FormField("walking_aid", "Leans on", "select", choices_of(WalkingAid, {"none": "Nothing"})),
            FormField("without_orthosis", "Without the orthosis", "radios", choices_of(WithoutOrthosis, without)),
            FormField("one_handed", "Uses one hand only", "radios", YES_NO),
            FormField("shin_bears_pressure", "The shin can bear pressure", "radios", YES_NO),
        ),
    )


def _careful() -> FieldGroup:
    listed = tuple(Choice(each.value, PRECAUTIONS[each]) for each in ASKED_PRECAUTIONS)
    return FieldGroup(
        "careful",
        "To be careful about",
        (FormField("precautions_present", "Known either way", "precautions", listed),),
        "Leave open what nobody has asked. An open one counts as present where a danger sign is judged.",
    )


def _orthosis() -> FieldGroup:
    built = tuple(FormField(name, LABELS[name], "select", choices_of(kind)) for name, kind in ORTHOSIS_COLUMNS.items())
    marked = (FormField("identifier", "Identifier"), FormField("lot", "Lot"))
    protective = FormField("protective", PRECAUTIONS[Precaution.PROTECTIVE], "radios", YES_NO)
    replaces = FormField("replaces", "In place of", hint="The identifier of the earlier one, if it replaces one.")
    return FieldGroup("orthosis", "The orthosis", (*built, protective, *marked, replaces))


def _plan(protocols: Mapping[str, WearProtocol]) -> FieldGroup:
    listed = tuple(Choice(id, f"{each.title} ({each.source_key})") for id, each in sorted(protocols.items()))
    ends = (Choice("low", "The lower end"), Choice("high", "The upper end"))
    return FieldGroup(
        "plan",
        "The wearing goal",
        (
            FormField("protocol", "Wear protocol", "select", listed),
            FormField("full_wear_minutes", "Full wear, in minutes a day", hint="8 hours are 480.", short=True),
            FormField("window", "Part of the day", hint="Write two times such as 07:30-21:30.", short=True),
            FormField("fixed_points", "Fixed points of the day", hint=POINTS_HINT),
            FormField("activity", "Wears it", "select", choices_of(Activity, ACTIVITIES)),
            FormField("checker", "Who looks at the skin", hint=CHECKER_HINT),
            FormField("range_end", "Where the protocol gives a range, aim at", "radios", ends),
            FormField("zone", "Time zone of the wearer", hint=ZONE_HINT),
            FormField("delivered_on", "Handed over on", "date", short=True),
        ),
    )


def _contact(number: int) -> FieldGroup:
    prefix = f"contact{number}"
    words = "" if number == 1 else "Leave it empty where nobody else speaks for the wearer."
    named = {"self": "The wearer"}
    return FieldGroup(
        prefix,
        "Who is told and asked" if number == 1 else "Somebody else",
        (
            FormField(f"{prefix}_name", "Name"),
            FormField(f"{prefix}_relation", "To the wearer", "select", choices_of(Relation, named)),
            FormField(
                f"{prefix}_channel", "Messages go by", "select", choices_of(Channel, {"phone": "Nothing; we ring"})
            ),
            FormField(f"{prefix}_address", "Mail address or number for messages"),
            FormField(f"{prefix}_phone", "Number to ring", "tel"),
            FormField(f"{prefix}_language", "Language", "select", choices_of(LANGUAGES, LANGUAGE_NAMES)),
            FormField(f"{prefix}_zone", "Time zone", hint=ZONE_HINT),
            FormField(f"{prefix}_may_be_told", "May be told about the wearer", "radios", YES_NO),
            FormField(f"{prefix}_consent", "Has agreed to messages", "radios", YES_NO),
            FormField(f"{prefix}_on_duty", "Looks at the skin now", "radios", YES_NO),
        ),
        words,
    )


def row_of(form: Form) -> dict[str, str]:
    """The form as one row of the file of deliveries."""
    row = {name: value for name, value in form.row().items() if not name.startswith("precaution_")}
    said = {each.value: form.text(f"precaution_{each.value}") for each in ASKED_PRECAUTIONS}
    row["precautions_present"] = ";".join(name for name, value in said.items() if value == "yes")
    row["precautions_absent"] = ";".join(name for name, value in said.items() if value == "no")
    return row


def faults_in_words(faults: Iterable[tuple[str, str]], form: Form, groups: Iterable[FieldGroup]) -> list[Fault]:
    """What is wrong with the columns, in the words of the form and in the order of its fields."""
    fields = [each for group in groups for each in group.fields]
    named = {each.name: each for each in fields}
    place = {each.name: index for index, each in enumerate(fields)}
    told = [Fault(column, _fault(named.get(column), message, form.text(column), column)) for column, message in faults]
    return sorted(told, key=lambda fault: place.get(fault.field, len(place)))


def _fault(field: FormField | None, message: str, given: str, column: str) -> str:
    if field is None:
        return f"{column}: {message}"
    label = f"“{field.label}”"
    if field.kind in CHOSEN and (not given or given not in {each.value for each in field.choices}):
        return f"Choose an answer for {label}"
    if not given:
        return f"Write something for {label}. {field.hint}".strip()
    if field.name in TIME_ZONES or field.name == "window":
        return f"“{given}” is not one for {label}. {field.hint}"
    return f"{label}: {message}".replace("'", "’")
