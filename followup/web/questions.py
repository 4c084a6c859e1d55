"""One question as it is shown to a family or read aloud by staff."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from followup.core.finding import CANT_SAY, Finding, FindingKind
from followup.core.interview import LIMIT, NONE_OF_THESE, NOT_SURE, Question, QuestionKind, resolve
from followup.core.place import Place
from followup.core.rule_set import OVER_LIMIT, RuleSet
from followup.core.triage import Facts
from followup.services.take_report import PLACE, TOUCH, WORN
from followup.web.forms import Choice
from followup.web.voice import Voice


@dataclass(frozen=True, slots=True)
class AskedQuestion:
    """What stands on the screen. `kind` is ``gate``, ``choices``, ``number`` or ``place``.

    `members` are what a gate lists, `choices` the answers, `label` the words beside a number to be written.
    `groups` are the same choices under headings, where there are too many for one list.
    """

    id: str
    kind: str
    heading: str
    help: str
    members: tuple[str, ...]
    choices: tuple[Choice, ...]
    label: str = ""
    groups: tuple[tuple[str, tuple[Choice, ...]], ...] = ()

    @property
    def aloud(self) -> tuple[str, ...]:
        """The question, to be said as it stands; what a gate lists is read from its answers."""
        return (self.heading,)


def ask_family(rules: RuleSet, facts: Facts, question: Question, voice: Voice, which: bool = False) -> AskedQuestion:
    """A question for a family. `which` asks one by one which member of a gate is so."""
    if question.kind is QuestionKind.GATE:
        return _family_gate(rules, question, voice, which)
    finding = rules.findings[question.id]
    words = finding.words[voice.say.language]
    small = {CANT_SAY: voice.say("question.cant_say_small")}
    choices = _answers(finding, question, facts, words.labels, voice, small)
    looked = finding.gate == "skin" or finding.id == "mark_minutes"
    help = voice.say("question.help_skin") if looked else ""
    return AskedQuestion(finding.id, "choices", words.family.format(limit=facts.mark_limit_minutes), help, (), choices)


def ask_staff(rules: RuleSet, facts: Facts, question: Question, voice: Voice) -> AskedQuestion:
    """A question for staff, in the words to be said aloud; a gate offers each of its members."""
    if question.kind is QuestionKind.GATE:
        words = rules.gates[question.id].words[voice.say.language]
        listed = _listed(rules, question, voice)
        members = tuple(each.label for each in listed)
        none, not_sure = Choice(NONE_OF_THESE, words["none"]), Choice(NOT_SURE, words["not_sure"])
        return AskedQuestion(question.id, "gate", words["family"], "", members, (*listed, none, not_sure))
    finding = rules.findings[question.id]
    said = finding.words[voice.say.language]
    choices = _answers(finding, question, facts, said.labels, voice, {})
    kind = "number" if finding.kind is FindingKind.NUMBER else "choices"
    label = f"Or exactly, in {finding.unit}" if finding.kind is FindingKind.NUMBER else ""
    return AskedQuestion(finding.id, kind, said.family.format(limit=facts.mark_limit_minutes), "", (), choices, label)


def ask_place(places: Sequence[Place], voice: Voice) -> AskedQuestion:
    """Where on the leg, the most watchful places first, and by the side of the leg from which each is seen."""
    say = voice.say
    listed = tuple(Choice(place.id, place.words[say.language]) for place in places)
    views = {view: say(f"leg.caption.{view}") for view in ("outer", "inner", "front", "back", "sole")}
    groups = tuple(
        (words, tuple(choice for choice, place in zip(listed, places, strict=True) if _shown_on(place) == view))
        for view, words in views.items()
    )
    return AskedQuestion(PLACE, "place", say("question.place"), say("question.place_help"), (), listed, groups=groups)


def _shown_on(place: Place) -> str:
    """Under which side of the leg a place is listed: the one side it is on, else the sole, the back or the front."""
    seen = set(place.views)
    sides = seen & {"outer", "inner"}
    if len(sides) == 1:
        return sides.pop()
    return next(view for view in ("sole", "back", "front") if view in seen)


def ask_worn(rules: RuleSet, facts: Facts, voice: Voice) -> AskedQuestion:
    """How long it was worn, in all, with the day's target as one answer."""
    finding = rules.findings[WORN]
    words = finding.words[voice.say.language]
    target = facts.target_minutes or 0
    planned = Choice(str(target), voice.say("question.worn_planned", amount=voice.amount(target)))
    return AskedQuestion(WORN, "number", words.family, "", (), (planned,), voice.say("question.worn_label"))


def ask_touch(question: Question, voice: Voice) -> AskedQuestion:
    """Whether the skin was felt by hand as well, for someone who cannot feel that foot."""
    say = voice.say
    labels = {"yes": say("question.yes"), "no": say("question.no"), CANT_SAY: say("question.cant_say")}
    choices = tuple(Choice(value, labels[value]) for value in question.answers)
    return AskedQuestion(TOUCH, "choices", say("question.touch"), say("question.touch_help"), (), choices)


def _family_gate(rules: RuleSet, question: Question, voice: Voice, which: bool) -> AskedQuestion:
    words = rules.gates[question.id].words[voice.say.language]
    listed = _listed(rules, question, voice)
    members = tuple(each.label for each in listed)
    small = voice.say("question.cant_say_small")
    if which:
        sure = Choice(NOT_SURE, words["not_sure"], small)
        return AskedQuestion(question.id, "choices", voice.say("question.which"), "", (), (*listed, sure))
    return AskedQuestion(question.id, "gate", words["family"], "", members, (Choice(NONE_OF_THESE, words["none"]),))


def _listed(rules: RuleSet, question: Question, voice: Voice) -> tuple[Choice, ...]:
    """What a gate lists: its lines, or its members where only one of a line is left or it has no lines."""
    if not question.lines:
        return tuple(Choice(id, _short(rules.findings[id], voice)) for id in question.findings)
    single = {line.id: line.findings[0] for line in question.lines if len(line.findings) == 1}
    return tuple(
        Choice(single[line.id], _short(rules.findings[single[line.id]], voice))
        if line.id in single
        else Choice(line.id, line.words[voice.say.language])
        for line in question.lines
    )


def _short(finding: Finding, voice: Voice) -> str:
    return finding.words[voice.say.language].short


def _answers(
    finding: Finding,
    question: Question,
    facts: Facts,
    labels: Mapping[str, str],
    voice: Voice,
    small: Mapping[str, str],
) -> tuple[Choice, ...]:
    """The answers a form may send back, each with its label."""
    named = dict(_labels(finding, facts, labels, voice))
    return tuple(Choice(value, named.get(value, value), small.get(value, "")) for value in question.answers)


def _labels(finding: Finding, facts: Facts, labels: Mapping[str, str], voice: Voice) -> list[tuple[str, str]]:
    say, limit = voice.say, facts.mark_limit_minutes
    common = [("yes", say("question.yes")), ("no", say("question.no")), (CANT_SAY, say("question.cant_say"))]
    own = [(str(resolve(key, limit)), text.format(limit=limit)) for key, text in labels.items()]
    return [*common, *own]


def word_of(rules: RuleSet, question_id: str, answer: str, facts: Facts, voice: Voice) -> tuple[str, str]:
    """An answered question in brief: what was asked, and the answer as a label."""
    if question_id in rules.gates:
        words = rules.gates[question_id].words[voice.say.language]
        fixed = {NONE_OF_THESE: words["none"], NOT_SURE: words["not_sure"]}
        lines = {line.id: line.words[voice.say.language] for line in rules.gates[question_id].lines}
        said = fixed.get(answer) or lines.get(answer) or _short(rules.findings[answer], voice)
        return words["family"], said
    finding = rules.findings[question_id]
    words_of = finding.words[voice.say.language]
    named = dict(_labels(finding, facts, words_of.labels, voice))
    value = str(resolve(answer, facts.mark_limit_minutes)) if answer in (LIMIT, OVER_LIMIT) else answer
    unit = f"{value} {finding.unit}".strip()
    return words_of.short, named.get(value, unit)
