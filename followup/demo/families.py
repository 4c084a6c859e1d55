"""The families of the demo: they read what arrives, look at the skin, and answer on the page, by mail or by phone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from followup.clinical.load_rules import load_looks
from followup.core.finding import CANT_SAY, Answer
from followup.core.interview import NONE_OF_THESE, Question, QuestionKind
from followup.demo.receiver import Received
from followup.demo.stage import Household, Stage
from followup.demo.story import Act, Deed
from followup.errors import FollowupError
from followup.services.links import CaregiverLink
from followup.services.see_today import see_today
from followup.services.sign_in import Session
from followup.services.take_report import (
    PLACE,
    WORN,
    Progress,
    ReportSource,
    answer_report,
    begin_report,
    finish_report,
)

EVENING = time(18)
Findings = Mapping[str, bool | int | str]
CLEAR: Findings = {"mark_minutes": 0}


@dataclass(frozen=True, slots=True)
class Evening:
    """What a family does about one question by itself: when, how, and what they saw."""

    at: datetime
    link: CaregiverLink
    letter: Received
    findings: Findings
    by_mail: bool


@dataclass
class Families:
    """Everyone at home. `answered` holds who has answered on which local date, so that nobody answers twice."""

    stage: Stage
    answered: set[tuple[int, str]] = field(default_factory=set)
    buttons: Mapping[str, Mapping[str, Answer]] = field(default_factory=load_looks)

    def read_post(self) -> list[Evening]:
        """Read what arrived; what the families will do about the questions of the evening."""
        return [evening for link, letter in self.stage.read_post() if (evening := self._evening(link, letter))]

    def answer(self, evening: Evening) -> None:
        """Do what a family set out to do."""
        if evening.by_mail:
            self.stage.write_reply(evening.letter, "1")
        else:
            self.tell_page(evening.link, evening.findings)

    def act(self, act: Act, desk: Session) -> None:
        """One act of the story, now. A call is taken by the desk."""
        household = self.stage.household_of(act.who)
        if act.does is Deed.PHONE:
            self.ring(household, desk, act.findings, act.contact, act.text)
        elif act.does is Deed.PAGE:
            self.tell_page(self._newest(household, act.contact)[0], act.findings, act.leaves_after)
        elif act.does is Deed.REPLY:
            self.stage.write_reply(self._newest(household, act.contact)[1], act.text)

    def tell_page(self, link: CaregiverLink, findings: Findings, leaves_after: int | None = None) -> None:
        """Answer the page's questions as `findings` has it; what is not in it is not so."""
        source = ReportSource("link", link.orthosis_id, link.contact_id)
        first = self.buttons[first_button(findings)]
        progress = begin_report(self.stage.practice, source, first, self.stage.now)
        self._interview(progress, findings, leaves_after)

    def ring(self, household: Household, desk: Session, findings: Findings, contact: int = 1, text: str = "") -> None:
        """A call about a wearer, taken by the desk with the questions the rules choose."""
        whom = household.contacts[contact - 1]
        source = ReportSource("phone", household.orthosis_id, whom.id, desk.staff_id, text)
        self._interview(begin_report(self.stage.practice, source, {}, self.stage.now), findings)

    def picks_up(self, household: Household) -> bool:
        """True if somebody answers the telephone now."""
        on = self.stage.now.astimezone(household.zone)
        if self.stage.story.silent_on(household.reference, on.date()):
            return False
        return self.stage.chance("rings", household.name, on.isoformat()).random() < 0.85

    def seen(self, household: Household, limit_minutes: int) -> Findings:
        """What a family has seen on a day the story says nothing about."""
        on = self.stage.now.astimezone(household.zone).date()
        return seen_by_chance(self.stage.chance("skin", household.name, on).random(), limit_minutes)

    def _evening(self, link: CaregiverLink, letter: Received) -> Evening | None:
        stage = self.stage
        household = stage.households[link.orthosis_id]
        local = letter.at.astimezone(ZoneInfo(link.zone))
        asked = (link.orthosis_id, str(local.date()))
        if local.time() < EVENING or asked in self.answered or stage.story.quiet_on(household.reference, local.date()):
            return None
        self.answered.add(asked)
        chance = stage.chance("evening", household.name, local.date())
        if chance.random() < 0.05:
            return None
        findings = self.seen(household, see_today(stage.practice, link, stage.now).limit_minutes)
        writes = stage.chance("writes", household.name).random() < 0.4 and household.contacts[0].channel == "email"
        later = timedelta(minutes=chance.randint(4, 75))
        return Evening(letter.at + later, link, letter, findings, writes and findings == CLEAR)

    def _interview(self, progress: Progress, findings: Findings, leaves_after: int | None = None) -> None:
        practice, now = self.stage.practice, self.stage.now
        while progress.question is not None:
            if leaves_after is not None and progress.asked >= leaves_after:
                return
            said = choose(progress.question, findings, progress.facts.findings)
            progress = answer_report(practice, progress.report_id, progress.question.id, said, now)
        finish_report(practice, progress.report_id, now)

    def _newest(self, household: Household, contact: int) -> tuple[CaregiverLink, Received]:
        key = (household.contacts[contact - 1].id, household.orthosis_id)
        if key not in self.stage.newest:
            raise FollowupError("story", f"Nothing had arrived for {household.reference} yet; move that moment.")
        return self.stage.newest[key]


def first_button(findings: Findings) -> str:
    """Which of the page's first buttons somebody who saw that presses."""
    if findings.get("sore_or_broken"):
        return "broken"
    if findings.get("wants_call"):
        return "call"
    return "clear" if findings.get("mark_minutes", 0) == 0 else "mark"


def choose(question: Question, findings: Findings, known: Mapping[str, object]) -> str:
    """The answer to one question by somebody who found that; what was not found is answered at its best."""
    if question.kind is QuestionKind.GATE:
        return next((id for id in question.findings if findings.get(id) and id not in known), NONE_OF_THESE)
    value = findings.get(question.id)
    if value is None and question.id in (PLACE, WORN):
        return CANT_SAY
    if value is None:
        return "no" if "no" in question.answers else question.answers[0]
    return ("yes" if value else "no") if isinstance(value, bool) else str(value)


def seen_by_chance(chance: float, limit_minutes: int) -> Findings:
    """What is seen on an evening, for a chance from 0 to 1: mostly nothing, now and then a mark, seldom a long one."""
    if chance < 0.82:
        return CLEAR
    if chance < 0.93:
        return {"mark_minutes": max(limit_minutes - 10, 5)}
    if chance < 0.96:
        return {"mark_minutes": 0, "shoe_tight": True}
    if chance < 0.98:
        return {"mark_minutes": 10, "pain": 5}
    return {"mark_minutes": limit_minutes + 20}
