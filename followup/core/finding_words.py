"""What answered findings say, in plain English, for the staff's pages."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from followup.core.finding import CANT_SAY
from followup.core.place import Place
from followup.core.precaution import Precaution
from followup.core.rule_set import RuleSet
from followup.core.triage import Facts, TriageResult

NOT_ALL_ANSWERED = "not every urgent question has an answer"
MOST_RULES = 2
PRECAUTION_WORDS: Mapping[Precaution, str] = {
    Precaution.REDUCED_SENSATION: "cannot feel that foot",
    Precaution.DIABETES: "has diabetes",
    Precaution.POOR_CIRCULATION: "has poor circulation",
    Precaution.ANTICOAGULANT: "takes a blood thinner",
    Precaution.FRAGILE_SKIN: "has fragile skin",
    Precaution.CHANGING_OEDEMA: "has swelling that comes and goes",
    Precaution.SPASTICITY: "has spasticity",
    Precaution.CANNOT_SEE_OR_REACH_FOOT: "cannot see or reach the foot",
    Precaution.CANNOT_REPORT: "cannot say when it hurts",
    Precaution.CHILD: "is a child",
    Precaution.PROTECTIVE: "wears it to protect a fracture or a repair",
    Precaution.SPINAL_CORD_INJURY_HIGH: "has a high spinal cord injury",
    Precaution.OLD_ULCER: "had an ulcer there before",
}


def say_finding(rules: RuleSet, finding_id: str, value: object, mark_limit_minutes: int | None = None) -> str:
    """What a finding and its answer say; one minute over the limit is how "longer, or still there" is kept."""
    if finding_id == "mark_minutes" and mark_limit_minutes is not None and value == mark_limit_minutes + 1:
        return f"the mark lasted longer than {mark_limit_minutes} minutes, or is still there"
    finding = rules.findings.get(finding_id)
    if finding is None or "en" not in finding.words:
        return f"{finding_id.replace('_', ' ')}: {value}"
    if finding_id in _BY_NUMBER:
        return _say_number(finding_id, value)
    if finding_id in _OF_THE_FAMILY and value is True:
        return _OF_THE_FAMILY[finding_id]
    words = finding.words["en"]
    short = words.short[:1].lower() + words.short[1:]
    if value == CANT_SAY:
        return f"cannot say: {short}"
    if isinstance(value, bool):
        return short if value else f"not so: {short}"
    return f"{short}: {words.labels.get(str(value), value)}"


def say_why(rules: RuleSet, places: Sequence[Place], facts: Facts, place: str | None, result: TriageResult) -> str:
    """Why somebody is rung: what was found under the most urgent rules, where, and what makes it worse here."""
    by_id = {rule.id: rule for rule in rules.rules}
    top = [by_id[fired.id] for fired in result.fired[:MOST_RULES]]
    ids = dict.fromkeys(condition.finding for rule in top for condition in rule.when)
    said = [say_finding(rules, id, facts.findings[id], facts.mark_limit_minutes) for id in ids if id in facts.findings]
    where = next((each.words.get("en", "") for each in places if each.id == place), "")
    if said and where:
        said[0] += f" ({where[:1].lower()}{where[1:]})"
    worse = dict.fromkeys(each for rule in top for each in sorted(rule.precautions) if facts.precautions.get(each))
    said += [PRECAUTION_WORDS[Precaution(each)] for each in worse]
    if result.urgency > result.floor:
        said.append(NOT_ALL_ANSWERED)
    return "; ".join(said) or NOT_ALL_ANSWERED


_OF_THE_FAMILY = {
    "wants_call": "they would like to be rung about something else",
    "cannot_put_on": "they cannot get it on",
    "sore_or_broken": "sore, broken or hurting, not said which",
}
"""Findings whose short words speak to the family; staff read about them."""
_BY_NUMBER = {
    "mark_minutes": ("the mark lasted {} minutes", "how long the mark lasted is not known"),
    "worn_minutes": ("it was on for {} minutes", "how long it was on is not known"),
    "pain": ("it hurts, {} of 10", "how much it hurts is not known"),
    "silent_days": ("no look at the skin was reported for {} days", ""),
    "repeat_place": ("a mark at the same place {} times before within 48 hours", ""),
    "days_worn_too_little": ("worn less than 80 % of the time on {} of the last seven days", ""),
    "hot_days": ("the foot was hotter than the other for {} days running", "whether the foot is hotter is not known"),
}


def _say_number(finding_id: str, value: object) -> str:
    known, unknown = _BY_NUMBER[finding_id]
    if value == CANT_SAY:
        return unknown
    if value == 0:
        return {"mark_minutes": "no mark", "pain": "no pain"}.get(finding_id, known.format(0))
    return known.format(value).replace(" 1 days", " a day").replace(" 1 times", " once")
