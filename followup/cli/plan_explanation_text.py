"""The explanation of a plan day as lines for staff: what was heard, where each number is from, what comes next."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime

from followup.clinical.load_sources import cite, load_sources
from followup.core.plan_event import Complaint, EventData, PlanInstruction, SkinCheck, TriageOutcome
from followup.core.plan_event_json import data_as_json
from followup.core.plan_explanation import DayExplanation, RaisedBy
from followup.core.plan_reason import cause
from followup.core.plan_terms import PlanTerms
from followup.core.plan_trace import Heard
from followup.core.reason_basis import Basis
from followup.core.sentences import duration
from followup.core.skin_check import Verdict
from followup.core.tightening import Ask

_JUDGED = {
    Verdict.CLEAR: "counts as the day's clear check",
    Verdict.UNSETTLED: "does not count as the day's check",
    Verdict.SAME_TIME: "asks for the same time again",
    Verdict.SHORTER: "asks for a shorter time",
    Verdict.STOP: "stops the wear",
}
_CAUTIONS = {
    Ask.MARK_LIMIT: "a mark may last {minutes} minutes at most",
    Ask.SMALLER_STEPS: "each growth is taken in two",
    Ask.BOTH_LOOKS: "the skin is looked at at every removal and once more after the limit",
    Ask.BY_TOUCH: "the skin is felt by hand as well",
    Ask.LOOK_WHILE_ON: "the skin is looked at every {minutes} minutes of wear up to wearing day {until_day}",
    Ask.NAMED_CHECKER: "somebody is named who looks at the skin",
    Ask.NO_SELF_ADVANCE: "only a clinician raises the wear",
    Ask.WATCHED: "no day without a check goes by; seven clear days at full wear",
    Ask.NEVER_REDUCED: "the program never shortens, slows or stops the wear",
}


def lines(explained: DayExplanation) -> list[str]:
    """What stands under the day's own line: what was heard, its step, sources by key, cautions, and tomorrow."""
    said = [*_heard_lines(explained), *_step_lines(explained), *_caution_lines(explained.terms)]
    return [*said, *_less_lines(explained), _tomorrow_line(explained)]


def sources(explained: Sequence[DayExplanation]) -> list[str]:
    """Every source the days name, cited in full, and what each rule of caution settles without one."""
    rules = {rule.id: rule for each in explained for rule in each.terms.rules}
    keys = {rule.source_key for rule in rules.values() if rule.source_key}
    keys |= {key for each in explained for basis in each.bases for key in _keys(basis, each.terms)}
    known = load_sources()
    return [
        *(f"{key}: {cite(key, known)}" for key in sorted(keys)),
        *(f"caution {rule.id}: {rule.ours}" for rule in rules.values() if rule.ours),
    ]


def _heard_lines(explained: DayExplanation) -> Iterator[str]:
    if not explained.heard:
        assumed = "yet; clear skin on the day before is assumed" if explained.assumed else "since the day before"
        yield f"heard: nothing {assumed}"
    for heard in explained.heard:
        told = _local(heard.event.recorded_at, explained.terms)
        yield f"heard {told}: {_said(heard, explained.terms)}"


def _said(heard: Heard, terms: PlanTerms) -> str:
    said = _told(heard.event.data, heard.event.occurred_at, terms)
    if heard.judgement is None:
        return said
    verdict, reason = heard.judgement.verdict, heard.judgement.reason
    why = "" if verdict is Verdict.CLEAR else f": {cause(reason)}"
    return f"{said}; it {_JUDGED[verdict]}{why}"


def _told(data: EventData, happened_at: datetime, terms: PlanTerms) -> str:
    match data:
        case SkinCheck():
            return (
                f"skin check of {data.plan_on}, looked at {_local(data.looked_at or happened_at, terms)}: {_seen(data)}"
            )
        case Complaint():
            return f"complaint about {data.plan_on}: {data.about or 'not said what'}"
        case TriageOutcome():
            rule = f", rule {data.reason}" if data.reason else ""
            return f"report judged: {_plain(data.instruction)}, {_plain(data.urgency.id)}{rule}"
        case PlanInstruction():
            step = f" at step {data.step}" if data.step else ""
            by = f", by {data.by}" if data.by else ""
            return f"clinician's instruction: {_plain(data.action)}{step} from {data.from_on}{by}"
        case _:
            facts = ", ".join(f"{name} {value}" for name, value in data_as_json(data).items() if value is not None)
            return f"{_plain(type(data).__name__)}: {facts}"


def _seen(check: SkinCheck) -> str:
    said = [_plain(check.result)]
    if check.mark_minutes is not None:
        said.append(f"mark {check.mark_minutes} minutes")
    if check.worn_minutes is not None:
        said.append(f"worn {duration(check.worn_minutes, 'en')}")
    said += [word for word, true in (("broken", check.broken), ("uncomfortable", check.discomfort)) if true]
    said += ["felt by hand"] if check.by_touch else []
    return ", ".join(said)


def _step_lines(explained: DayExplanation) -> Iterator[str]:
    day, terms = explained.day, explained.terms
    low, high = terms.range(day.step)
    half = "" if terms.published[day.step - 1] else ", between two steps of the document"
    yield (
        f"step {day.step} of {terms.top}: {duration(explained.step_minutes, 'en')}{half}; "
        f"from {duration(low, 'en')}, never more than {duration(high, 'en')} ({_key(terms.protocol.source_key)})"
    )
    for reason, basis in zip(day.reasons, explained.bases, strict=True):
        settled = [basis.settled] if basis.settled else []
        yield f"because {cause(reason)} ({'; '.join([*map(_key, _keys(basis, terms)), *settled])})"


def _keys(basis: Basis, terms: PlanTerms) -> tuple[str, ...]:
    return (*basis.sources, terms.protocol.source_key) if basis.by_protocol else basis.sources


def _caution_lines(terms: PlanTerms) -> Iterator[str]:
    for rule in terms.rules:
        whom = ", ".join(map(_plain, rule.precautions))
        asked = _CAUTIONS[rule.asks].format(minutes=rule.minutes, until_day=rule.until_day)
        yield f"caution {rule.id} with {whom}: {asked} ({_key(rule.source_key) or 'common practice, no source'})"


def _less_lines(explained: DayExplanation) -> Iterator[str]:
    if explained.is_less_than_its_step:
        short = duration(explained.step_minutes - explained.day.target_minutes, "en")
        yield f"{short} less than the step: {'; '.join(cause(reason) for reason in explained.day.reasons)}"


def _tomorrow_line(explained: DayExplanation) -> str:
    tomorrow = explained.tomorrow
    if tomorrow.by is RaisedBy.NOTHING:
        return "tomorrow: nothing is raised any more" + (f": {cause(tomorrow.why_not)}" if tomorrow.why_not else "")
    if tomorrow.by is RaisedBy.CLINICIAN:
        return "tomorrow: raised by a clinician only" + (f": {cause(tomorrow.why_not)}" if tomorrow.why_not else "")
    touched = " and felt by hand" if tomorrow.by_touch else ""
    at = f" from {_local(tomorrow.looked_from, explained.terms)} on" if tomorrow.looked_from else ""
    worn = f", with at least {duration(tomorrow.worn_minutes, 'en')} worn" if tomorrow.worn_minutes else ""
    return f"tomorrow: {duration(tomorrow.to_minutes, 'en')} after clear skin seen{touched}{at}{worn}"


def _local(at: datetime, terms: PlanTerms) -> str:
    return f"{at.astimezone(terms.goal.zone):%Y-%m-%d %H:%M}"


def _key(key: str) -> str:
    return f"{key} [{load_sources()[key]['grade']}]" if key else ""


def _plain(word: str) -> str:
    return str(word).replace("_", " ")
