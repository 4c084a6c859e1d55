"""The rules by which one day of a wear plan follows from the last: each guard is a small function of its own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from followup.core.plan_event import PlanAction, PlanInstruction
from followup.core.plan_reason import Reason, ReasonCode
from followup.core.plan_terms import PlanTerms
from followup.core.skin_check import Judgement, Verdict, of_the_day
from followup.core.urgency import WearInstruction
from followup.core.wear_day import PlanState, WearDay

ONE_DAY = timedelta(days=1)
DISCOMFORT_AGAIN_WITHIN = timedelta(days=7)
FULL_WEAR_CHECKS = 1
FULL_WEAR_CHECKS_WATCHED = 7
SILENT_DAYS_ALLOWED = 1


@dataclass(frozen=True, slots=True)
class Decision:
    """What one day is to be; its minutes and periods follow from the step."""

    state: PlanState
    step: int
    reason: Reason
    instruction: WearInstruction
    silent_days: int
    stopped_since: date | None


def may_advance(verdict: Verdict, terms: PlanTerms) -> bool:
    """True after a clear check of the last worn step, for a wearer whom the program may raise."""
    return verdict is Verdict.CLEAR and terms.advances_itself


def may_reduce(terms: PlanTerms) -> bool:
    """False for a protective orthosis: only a clinician lowers or stops its wear."""
    return not terms.protective


def stops(verdict: Verdict) -> bool:
    """True for a finding after which nothing is worn until a clinician has spoken."""
    return verdict is Verdict.STOP


def silent_too_long(silent_days: int, terms: PlanTerms) -> bool:
    """True for more days in a row without a check than this wearer is allowed: one, or none where `watched`."""
    return silent_days > (0 if terms.watched else SILENT_DAYS_ALLOWED)


def may_be_silenced(terms: PlanTerms) -> bool:
    """False for those who are phoned instead: a protective orthosis, or nobody to stand safely without it."""
    return may_reduce(terms) and not terms.cannot_stand_alone


def twice_within_a_week(earlier_on: date | None, on: date) -> bool:
    """True for a second discomfort that a clinician must hear of."""
    return earlier_on is not None and timedelta(0) < abs(on - earlier_on) <= DISCOMFORT_AGAIN_WITHIN


@dataclass(slots=True)
class Course:
    """What is carried from day to day.

    `hear_*` takes in facts as they are recorded (`issuing_on` is the next day to be issued), `look_back` judges the
    day last issued, `decide` says what the next one is to be.
    """

    terms: PlanTerms
    step: int = 1
    clear_step: int = 0
    stop: Reason | None = None
    stopped_since: date | None = None
    hold: Reason | None = None
    hold_state: PlanState = PlanState.SAME_TIME
    instructions: list[PlanInstruction] = field(default_factory=list)
    silent_days: int = 0
    full_wear_checks: int = 0
    discomfort_on: date | None = None
    heard: Judgement | None = None
    last_day: Judgement | None = None

    def hear_check(self, judgement: Judgement, plan_on: date, issuing_on: date) -> None:
        """Take in a skin check of the day `plan_on`, however late it comes."""
        if plan_on < issuing_on:
            self.silent_days = min(self.silent_days, max(0, (issuing_on - plan_on).days - 2))
        if judgement.reason.code is ReasonCode.DISCOMFORT:
            judgement = self._discomfort(judgement, plan_on)
        if judgement.verdict >= Verdict.SHORTER:
            self._hear(judgement, issuing_on)

    def hear_triage(self, instruction: WearInstruction, issuing_on: date) -> None:
        """Take in a triage result as it was recorded."""
        if instruction is WearInstruction.LEAVE_ON_AS_ORDERED:
            self._leave_on(Reason(ReasonCode.REPORT_LEAVE_ON))
        elif instruction in _FROM_TRIAGE:
            self._hear(_FROM_TRIAGE[instruction], issuing_on)

    def hear_instruction(self, instruction: PlanInstruction, issuing_on: date) -> None:
        """Take in a clinician's word: it replaces earlier ones from its date on, and has heard what came before it."""
        self.instructions = [each for each in self.instructions if each.from_on < instruction.from_on] + [instruction]
        if instruction.from_on <= issuing_on:
            self.heard = None
        if instruction.action is PlanAction.OFF and instruction.from_on < issuing_on:
            self._halt(Reason(ReasonCode.CLINICIAN_OFF), issuing_on - ONE_DAY)

    def look_back(self, day: WearDay, judgements: Sequence[Judgement]) -> None:
        """Judge the day last issued by its checks; none at all is a missed one."""
        if not day.target_minutes or (self.stop is not None and not judgements):
            self.last_day = Judgement(Verdict.UNSETTLED, Reason(ReasonCode.NO_WEAR_PLANNED))
        elif judgements:
            self.silent_days = 0
            self.last_day = of_the_day(judgements)
            if self.last_day.verdict is Verdict.CLEAR and self.stop is None:
                self.clear_step = day.step
                self.full_wear_checks += day.at_full_wear
        elif self._expects_check():
            self._miss(day.on + ONE_DAY)
        else:
            self.last_day = Judgement(Verdict.CLEAR, Reason(ReasonCode.FULL_WEAR))

    def decide(self, on: date) -> Decision:
        """The day `on`: a stop stands first, then a clinician's word, then what is held, then the ladder."""
        worn_step = self.step
        word = self._obey_due(on)
        if self.stop is not None:
            state, reason = PlanState.OFF, self.stop
        elif word is not None:
            state, reason = self._limit(word, worn_step)
        elif self.hold is not None:
            state, reason = self._held(self.hold)
        else:
            state, reason = self._follow()
        self.heard = None
        return self._decision(state, reason)

    def _hear(self, judgement: Judgement, issuing_on: date) -> None:
        if judgement.verdict >= Verdict.SHORTER and not may_reduce(self.terms):
            self._leave_on(judgement.reason)
        elif stops(judgement.verdict):
            self._drop_words()
            self._halt(judgement.reason, issuing_on - ONE_DAY)
        elif self.heard is None or judgement.verdict > self.heard.verdict:
            self.heard = judgement

    def _discomfort(self, judgement: Judgement, plan_on: date) -> Judgement:
        again = twice_within_a_week(self.discomfort_on, plan_on)
        self.discomfort_on = max(self.discomfort_on or plan_on, plan_on)
        if not again:
            return judgement
        self.heard = None
        self._drop_words()
        self.hold, self.hold_state = Reason(ReasonCode.DISCOMFORT_AGAIN), PlanState.SHORTER
        return Judgement(judgement.verdict, self.hold)

    def _leave_on(self, reason: Reason) -> None:
        self._drop_words()
        self.hold, self.hold_state = reason, PlanState.LEAVE_ON

    def _drop_words(self) -> None:
        """A clinician who spoke before this finding did not know of it; only "off" still stands."""
        self.instructions = [each for each in self.instructions if each.action is PlanAction.OFF]

    def _halt(self, reason: Reason, since: date) -> None:
        self.stop = reason
        self.stopped_since = self.stopped_since or since

    def _release(self, step: int) -> None:
        self.stop = self.stopped_since = self.hold = None
        self.silent_days = 0
        self.step = min(max(1, step), self.terms.top)
        self.clear_step = min(self.clear_step, self.step)

    def _expects_check(self) -> bool:
        wanted = FULL_WEAR_CHECKS_WATCHED if self.terms.watched else FULL_WEAR_CHECKS
        return self.step < self.terms.top or self.full_wear_checks < wanted

    def _miss(self, on: date) -> None:
        self.silent_days += 1
        code = ReasonCode.MISSED_CHECK
        if silent_too_long(self.silent_days, self.terms):
            code = ReasonCode.SILENT_PHONED
            if may_be_silenced(self.terms):
                self._halt(Reason(ReasonCode.SILENT_OFF), on)
        self.last_day = Judgement(Verdict.UNSETTLED, Reason(code))

    def _obey_due(self, on: date) -> tuple[PlanState, Reason] | None:
        due = [each for each in self.instructions if each.from_on <= on]
        self.instructions = [each for each in self.instructions if each.from_on > on]
        word = None
        for instruction in due:
            word = self._obey(instruction, on)
        return word

    def _obey(self, word: PlanInstruction, on: date) -> tuple[PlanState, Reason] | None:
        reason = Reason(_FROM_CLINICIAN[word.action])
        if word.action is PlanAction.OFF:
            self._halt(reason, on)
            return None
        if word.action is PlanAction.AS_PLANNED and self.stop is None and self.hold is None:
            self._keep_to_plan(reason)
            return None
        worn_step = self.step
        self._release(self._step_for(word))
        if word.action is PlanAction.LEAVE_ON:
            self.hold, self.hold_state = reason, PlanState.LEAVE_ON
        shorter = word.action is PlanAction.SHORTER and self.step < worn_step
        return (PlanState.SHORTER if shorter else _STATES.get(word.action, PlanState.WEARING)), reason

    def _keep_to_plan(self, reason: Reason) -> None:
        """The last day's findings, known to the clinician, no longer shorten; they still are no clear check."""
        if self.last_day is not None and self.last_day.verdict > Verdict.UNSETTLED:
            self.last_day = Judgement(Verdict.UNSETTLED, reason)

    def _step_for(self, word: PlanInstruction) -> int:
        match word.action:
            case PlanAction.RESUME:
                return word.step or self.clear_step
            case PlanAction.AS_PLANNED:
                return self.clear_step
            case PlanAction.RESTART:
                return 1
            case PlanAction.SHORTER:
                return self.terms.step_down(self.step)
            case _:
                return self.step

    def _limit(self, word: tuple[PlanState, Reason], worn_step: int) -> tuple[PlanState, Reason]:
        """The clinician's word, held back by what was recorded after it."""
        if self.heard is None:
            return word
        self.step = min(self.step, worn_step)
        return self._shorter(self.heard) if self.heard.verdict is Verdict.SHORTER else self._same(self.heard.reason)

    def _held(self, reason: Reason) -> tuple[PlanState, Reason]:
        if self.hold_state is PlanState.SHORTER and self.heard is not None and self.heard.verdict is Verdict.SHORTER:
            self.hold_state, _ = self._shorter(self.heard)
        return self.hold_state, reason

    def _follow(self) -> tuple[PlanState, Reason]:
        """The ladder: one step up after a clear check, the same step again, or one down."""
        if self.last_day is None:
            return PlanState.WEARING, Reason(ReasonCode.FIRST_DAY)
        found = max(filter(None, (self.heard, self.last_day)), key=lambda each: each.verdict)
        if found.verdict is Verdict.SHORTER:
            return self._shorter(found)
        if may_advance(found.verdict, self.terms):
            return self._advance()
        if found.verdict is Verdict.CLEAR:
            return self._not_raised()
        return self._same(found.reason)

    def _advance(self) -> tuple[PlanState, Reason]:
        worn_step = self.step
        self.step = min(worn_step + 1, self.terms.top)
        if worn_step == self.terms.top:
            return PlanState.WEARING, Reason(ReasonCode.FULL_WEAR)
        same = self.terms.target(self.step) == self.terms.target(worn_step)
        return PlanState.WEARING, Reason(ReasonCode.LADDER_SAME if same else ReasonCode.CLEAR_CHECK)

    def _not_raised(self) -> tuple[PlanState, Reason]:
        if self.step == self.terms.top:
            return PlanState.WEARING, Reason(ReasonCode.FULL_WEAR)
        return self._same(Reason(ReasonCode.CANNOT_REPORT))

    def _shorter(self, found: Judgement) -> tuple[PlanState, Reason]:
        lower = self.terms.step_down(self.step)
        if lower == self.step:
            return self._same(found.reason)
        self.step = lower
        self.clear_step = min(self.clear_step, lower)
        return PlanState.SHORTER, found.reason

    def _same(self, reason: Reason) -> tuple[PlanState, Reason]:
        left_on = reason.code is ReasonCode.SILENT_PHONED and not may_reduce(self.terms)
        return (PlanState.LEAVE_ON if left_on else PlanState.SAME_TIME), reason

    def _decision(self, state: PlanState, reason: Reason) -> Decision:
        at_top = self.step == self.terms.top
        if not at_top:
            self.full_wear_checks = 0
        shown = PlanState.FULL_WEAR if at_top and state in (PlanState.WEARING, PlanState.SAME_TIME) else state
        return Decision(shown, self.step, reason, INSTRUCTIONS[state], self.silent_days, self.stopped_since)


INSTRUCTIONS = {
    PlanState.WEARING: WearInstruction.AS_PLANNED,
    PlanState.FULL_WEAR: WearInstruction.AS_PLANNED,
    PlanState.SAME_TIME: WearInstruction.SAME_TIME_AGAIN,
    PlanState.SHORTER: WearInstruction.SHORTER_TIME,
    PlanState.OFF: WearInstruction.OFF_UNTIL_WE_SPEAK,
    PlanState.LEAVE_ON: WearInstruction.LEAVE_ON_AS_ORDERED,
}
_FROM_TRIAGE = {
    WearInstruction.SAME_TIME_AGAIN: Judgement(Verdict.SAME_TIME, Reason(ReasonCode.REPORT_SAME_TIME)),
    WearInstruction.SHORTER_TIME: Judgement(Verdict.SHORTER, Reason(ReasonCode.REPORT_SHORTER)),
    WearInstruction.OFF_UNTIL_WE_SPEAK: Judgement(Verdict.STOP, Reason(ReasonCode.REPORT_OFF)),
}
_FROM_CLINICIAN = {action: ReasonCode(f"clinician_{action.value}") for action in PlanAction}
_STATES = {
    PlanAction.SAME_TIME: PlanState.SAME_TIME,
    PlanAction.SHORTER: PlanState.SAME_TIME,
    PlanAction.LEAVE_ON: PlanState.LEAVE_ON,
}
