"""The facts margin: what is known of one wearer, in short phrases; bold only what changes the answer."""

from __future__ import annotations

from collections.abc import Iterator

from followup.core.precaution import Precaution, WithoutOrthosis
from followup.services.tell_story import WearerFacts
from followup.web.staff_words import PRECAUTIONS, WITHOUT, upper_first
from followup.web.voice import Voice

FactRow = tuple[str, str, bool]
CHANGES_THE_ANSWER = frozenset({Precaution.REDUCED_SENSATION, Precaution.CANNOT_REPORT, Precaution.PROTECTIVE})


def fact_rows(facts: WearerFacts, voice: Voice) -> tuple[FactRow, ...]:
    """Rows of label, words and whether they are bold."""
    present = [Precaution(each) for each in facts.precautions]
    without = WithoutOrthosis(facts.without)
    careful = ". ".join([PRECAUTIONS[present[0]], *(PRECAUTIONS[each] for each in present[1:])]) if present else ""
    return (
        *_contacts(facts),
        ("Orthosis", f"{upper_first(facts.side)}: {', '.join(facts.construction)}. {facts.identifier}.", False),
        ("Handed over", voice.date(facts.delivered_on), False),
        (
            "To be careful about",
            f"{careful}." if careful else "Nothing recorded.",
            bool(set(present) & CHANGES_THE_ANSWER),
        ),
        ("Without the orthosis", f"{WITHOUT[without]}.", without.cannot_stand_alone),
        ("Wear plan", _plan(facts, voice), False),
        ("Hours of the day", "; ".join(filter(None, (facts.window, facts.fixed_points))) + ".", False),
        *((("Looks at the skin", f"{facts.checker}.", False),) if facts.checker else ()),
    )


def _plan(facts: WearerFacts, voice: Voice) -> str:
    full = voice.short(facts.full_wear_minutes)
    return f"{facts.protocol_title}. Full wear is {full}. A mark may last {facts.limit_minutes} minutes."


def _contacts(facts: WearerFacts) -> Iterator[FactRow]:
    for contact in facts.contacts:
        told = "may be told everything" if contact.may_be_told else "may report but not be told"
        duty = ", on duty" if contact.on_duty else ""
        who = "the wearer" if contact.relation == "self" else contact.relation.replace("_", " ")
        yield (f"{contact.name}, {who}", f"{contact.phone}{duty}; {told}.", False)
