"""How one day of a wear plan follows from the last; what may be done at all is in `plan_guards`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import NamedTuple

from followup.core.plan_event import OrthosisChange, OrthosisChanged, PlanAction, PlanInstruction, ProtocolChange
from followup.core.plan_guards import (
    CHECKED_DAYS_AFTER_CHANGE,
    checks_at_full_wear,
    may_advance,
    may_be_silenced,
    may_reduce,
    same_place_again,
    silent_too_long,
    stops,
    twice_within_a_week,
)
from followup.core.plan_reason import Reason, ReasonCode
from followup.core.plan_rest import ENDED, Change, Rest, due, ends_rest, rest_after
from followup.core.plan_terms import PlanTerms
from followup.core.plan_verdicts import (
    CLEAR_CHECK,
    DISCOMFORT,
    FROM_TRIAGE,
    FULL_WEAR_UNASKED,
    LADDER_SAME,
    NO_WEAR,
    UNTRIAGED,
)
from followup.core.plan_words import FROM_CLINICIAN, STATES_SAID, ClinicianWords
from followup.core.skin_check import Judgement, Verdict, of_the_day
from followup.core.urgency import WearInstruction
from followup.core.wear_day import PlanState, WearDay

ONE_DAY = timedelta(days=1)


class Decision(NamedTuple):
    """What one day is to be; its minutes and periods follow from the step. Nothing is worn where `rests`."""

    state: PlanState
    step: int
    reason: Reason
    silent_days: int = 0
    stopped_since: date | None = None
    rests: bool = False


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
    rest: Rest | None = None
    hold: Reason | None = None
    hold_state: PlanState = PlanState.SAME_TIME
    words: ClinicianWords = field(default_factory=ClinicianWords)
    changes: list[Change] = field(default_factory=list)
    silent_days: int = 0
    full_wear_checks: int = 0
    checked_days: int = 0
    rest_days: int = 0
    discomforts: list[date] = field(default_factory=list)
    marks: dict[str, list[tuple[date, datetime]]] = field(default_factory=dict)
    untriaged: bool = False
    slowed: bool = False
    asked: bool = True
    heard: Judgement | None = None
    last_day: Judgement | None = None
    unsettled: Judgement | None = None

    def hear_check(self, judgement: Judgement, plan_on: date, issuing_on: date) -> Judgement:
        """Take in a skin check of the day `plan_on`, however late it comes; the judgement as it counts."""
        if plan_on < issuing_on and self.silent_days:
            self.silent_days = min(self.silent_days, max(0, (issuing_on - plan_on).days - 2))
        if judgement.verdict is Verdict.CLEAR:
            return judgement
        if judgement.reason.code is ReasonCode.DISCOMFORT:
            judgement = self._discomfort(judgement, plan_on)
        if judgement.verdict >= Verdict.SHORTER:
            self._hear(judgement, issuing_on)
        return judgement

    def hear_mark(self, place: str, plan_on: date, looked_at: datetime) -> None:
        """Take in where a mark was: one that comes back is a clinician's to judge, and nothing is raised until then."""
        earlier = self.marks.setdefault(place, [])
        if any(same_place_again(each, plan_on, looked_at) for each in earlier) and self.hold is None:
            self._drop_words()
            self.hold, self.hold_state = Reason(ReasonCode.MARK_AGAIN), PlanState.SAME_TIME
        earlier.append((plan_on, looked_at))

    def hear_complaint(self) -> None:
        """Something was reported that nobody has judged yet."""
        self.untriaged = True

    def hear_triage(self, instruction: WearInstruction, issuing_on: date) -> None:
        """Take in a triage result as it was recorded; it judges every complaint before it."""
        self.untriaged = False
        if instruction is WearInstruction.LEAVE_ON_AS_ORDERED:
            self._leave_on(Reason(ReasonCode.REPORT_LEAVE_ON))
        elif instruction in FROM_TRIAGE:
            self._hear(FROM_TRIAGE[instruction], issuing_on)

    def hear_instruction(self, instruction: PlanInstruction, issuing_on: date) -> None:
        """Take in a clinician's word: it replaces earlier ones from its date on, and has heard what came before it."""
        self.words.tell(instruction)
        if instruction.from_on <= issuing_on:
            self.heard, self.untriaged = None, False
        if instruction.action is PlanAction.OFF and instruction.from_on < issuing_on:
            self._halt(Reason(ReasonCode.CLINICIAN_OFF), issuing_on - ONE_DAY)

    def hear_change(self, change: Change) -> None:
        """Take in what holds from its date on; a clinician who spoke before did not know of it."""
        self.changes.append(change)
        self.words.outlive(change)

    def changes_due(self, on: date) -> list[Change]:
        """The changes whose day has come, taken from the list."""
        found = [each for each in self.changes if due(each, on)]
        self.changes = [each for each in self.changes if not due(each, on)]
        return found

    def obey_change(self, change: Change) -> None:
        """What a change that has come asks of the plan, but for its terms (`follow_terms`)."""
        if self.rest is ENDED:
            return
        self.rest = rest_after(change, self.rest)
        if isinstance(change, OrthosisChanged):
            self._handed_back(change.change)

    def follow_terms(self, terms: PlanTerms, change: ProtocolChange | None = None) -> None:
        """Go on under other terms, at the highest step that gives no more time than the last clear one and the present.

        A clinician's protocol change may state the step.
        """
        if terms is self.terms:
            return
        before, self.terms = self.terms, terms
        now, cleared = before.target(self.step), before.target(self.clear_step) if self.clear_step else 0
        if change is not None:
            self.step = terms.highest_step_within(min(now, cleared) if cleared else now)
            self.clear_step = terms.highest_step_within(cleared) if cleared >= terms.target(1) else 0
            self._begin_protocol(change)
        elif terms.targets[: self.step] != before.targets[: self.step]:
            self.step = terms.lowest_step_like(now)
            self.clear_step = min(self.step, terms.lowest_step_like(cleared)) if cleared >= terms.target(1) else 0

    def _begin_protocol(self, change: ProtocolChange) -> None:
        """At the step the clinician said, or lower: what was found since is not answered by it."""
        said = min(max(1, change.step or self.step), self.terms.top)
        self.step = min(self.step, said) if self.heard is not None or self.words.is_outweighed(change) else said
        self.clear_step = min(self.clear_step, self.step)
        self._unsettle(ReasonCode.PROTOCOL_CHANGED)

    def look_back(self, day: WearDay, judgements: Sequence[Judgement]) -> None:
        """Judge the day last issued by its checks; none at all is a missed one."""
        if judgements and day.target_minutes:
            self.silent_days = 0
            self.last_day = found = of_the_day(judgements)
            if found.verdict is Verdict.CLEAR and self.stop is None:
                self.clear_step = day.step
                self.full_wear_checks += day.at_full_wear
            self.checked_days = max(0, self.checked_days - 1)
        elif not day.target_minutes or self.stop is not None:
            self.last_day = NO_WEAR
        elif self.rest is None and self.asked:
            self._miss(day.on + ONE_DAY)
        else:
            self.last_day = FULL_WEAR_UNASKED if self.rest is None else NO_WEAR

    def decide(self, on: date) -> Decision:
        """The day `on`: an end, a stop or a rest stands first, then a clinician's word, what is held, the ladder."""
        if self.untriaged:
            self._note(UNTRIAGED)
        worn_step = self.step
        word = self._obey_due(on) if self.words else None
        rests = False
        if self.stop is not None or self.rest is not None:
            state, reason = self._stand_still()
        elif word is not None:
            state, reason = self._limit(word, worn_step)
        elif self.rest_days:
            state, reason, rests = PlanState.WEARING, Reason(ReasonCode.REST_DAY), True
        elif self.hold is not None:
            state, reason = self._held(self.hold)
        else:
            state, reason = self._follow()
        self.heard = self.unsettled = None
        self.rest_days = self.rest_days - 1 if rests else self._rest_days_after(state)
        return self._decision(state, reason, rests)

    def _rest_days_after(self, state: PlanState) -> int:
        still = state is PlanState.OFF or state is PlanState.AWAY or state is PlanState.ENDED
        return 0 if still else self.terms.ladder[self.step - 1].shape.rest_days

    def _stand_still(self) -> tuple[PlanState, Reason]:
        """Nothing is planned; a protective orthosis is left on as ordered instead."""
        if self.rest is ENDED:
            return ENDED.state, ENDED.reason
        if self.stop is not None:
            return PlanState.OFF, self.stop
        assert self.rest is not None
        return (self.rest.state if may_reduce(self.terms) else PlanState.LEAVE_ON), self.rest.reason

    def _hear(self, judgement: Judgement, issuing_on: date) -> None:
        if judgement.verdict >= Verdict.SHORTER and not may_reduce(self.terms):
            self._leave_on(judgement.reason)
        elif stops(judgement.verdict):
            self._drop_words()
            self._halt(judgement.reason, issuing_on - ONE_DAY)
        else:
            self._note(judgement)

    def _note(self, judgement: Judgement) -> None:
        if self.heard is None or judgement.verdict > self.heard.verdict:
            self.heard = judgement

    def _discomfort(self, judgement: Judgement, plan_on: date) -> Judgement:
        again = any(twice_within_a_week(earlier_on, plan_on) for earlier_on in self.discomforts)
        self.discomforts.append(plan_on)
        if not again:
            return DISCOMFORT.get(self.terms.protocol.discomfort, judgement)
        self.heard = None
        self._drop_words()
        self.hold, self.hold_state = Reason(ReasonCode.DISCOMFORT_AGAIN), PlanState.SHORTER
        return Judgement(judgement.verdict, self.hold)

    def _leave_on(self, reason: Reason) -> None:
        self._drop_words()
        self.hold, self.hold_state = reason, PlanState.LEAVE_ON

    def _drop_words(self) -> None:
        """A clinician who spoke before this finding did not know of it; what was to be less is still less."""
        self.words.outweigh(self.changes)

    def _halt(self, reason: Reason, since: date) -> None:
        if self.stop is None or reason.code is not ReasonCode.REPORT_OFF:
            self.stop = reason  # "something was reported" says less than what was seen
        self.stopped_since = self.stopped_since or since

    def _release(self, step: int) -> None:
        if self.rest is not None and self.rest.needs_start_step:
            self.checked_days = CHECKED_DAYS_AFTER_CHANGE
        self.stop = self.stopped_since = self.hold = self.rest = None
        self.silent_days = self.rest_days = 0
        self.step = min(max(1, step), self.terms.top)
        self.clear_step = min(self.clear_step, self.step)

    def _handed_back(self, change: OrthosisChange) -> None:
        """The same orthosis again: the same time first, and after a repair a check on each of three days."""
        if change is OrthosisChange.REPAIRED:
            self.checked_days = CHECKED_DAYS_AFTER_CHANGE
            self._unsettle(ReasonCode.REPAIRED)
        elif change is OrthosisChange.RETURNED_UNCHANGED:
            self._unsettle(ReasonCode.RETURNED_UNCHANGED)

    def _unsettle(self, code: ReasonCode) -> None:
        """The last day's clear check, if it has one, raises nothing on the next day."""
        self.unsettled = Judgement(Verdict.UNSETTLED, Reason(code))

    def _expects_check(self) -> bool:
        at_full_wear = self.step == self.terms.top and not self.checked_days
        return not at_full_wear or self.full_wear_checks < checks_at_full_wear(self.terms)

    def _miss(self, on: date) -> None:
        self.silent_days += 1
        code = ReasonCode.MISSED_CHECK
        if silent_too_long(self.silent_days, self.terms):
            code = ReasonCode.SILENT_PHONED
            if may_be_silenced(self.terms):
                self._halt(Reason(ReasonCode.SILENT_OFF), on)
        self.last_day = Judgement(Verdict.UNSETTLED, Reason(code))

    def _obey_due(self, on: date) -> tuple[PlanState, Reason] | None:
        found, outweighed = self.words.due(on)
        for instruction in outweighed if may_reduce(self.terms) else ():
            self.step = min(self.step, max(1, self._step_for(instruction)))
            self.clear_step = min(self.clear_step, self.step)
        words = [self._obey(instruction, on) for instruction in found]
        return words[-1] if words else None

    def _obey(self, word: PlanInstruction, on: date) -> tuple[PlanState, Reason] | None:
        reason = Reason(FROM_CLINICIAN[word.action])
        if word.action is PlanAction.OFF:
            self._halt(reason, on)
            return None
        if self.rest is not None and not ends_rest(word, self.rest):
            return None
        if word.action is PlanAction.AS_PLANNED and not (self.stop or self.hold or self.rest):
            self._keep_to_plan(reason)
            return None
        worn_step = self.step
        self._release(self._step_for(word))
        if word.action is PlanAction.LEAVE_ON:
            self.hold, self.hold_state = reason, PlanState.LEAVE_ON
        shorter = word.action is PlanAction.SHORTER and self.step < worn_step
        return (PlanState.SHORTER if shorter else STATES_SAID.get(word.action, PlanState.WEARING)), reason

    def _keep_to_plan(self, reason: Reason) -> None:
        """The last day's findings, known to the clinician, no longer shorten; they still are no clear check."""
        self.silent_days = 0
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
        found = self.heard
        if found is not None and found.verdict is Verdict.SHORTER and self.hold_state is not PlanState.LEAVE_ON:
            self.hold_state, _ = self._shorter(found)
        return self.hold_state, reason

    def _follow(self) -> tuple[PlanState, Reason]:
        """The ladder: one step up after a clear check, the same step again, or one down."""
        found = self.last_day
        if found is None:
            return PlanState.WEARING, Reason(ReasonCode.FIRST_DAY)
        if self.unsettled is not None and found.verdict <= Verdict.UNSETTLED:
            found = self.unsettled
        if self.heard is not None and self.heard.verdict >= found.verdict:
            found = self.heard
        if found.verdict is Verdict.SHORTER:
            return self._shorter(found)
        if may_advance(found.verdict, self.terms):
            return self._advance()
        if found.verdict is Verdict.CLEAR:
            return self._not_raised()
        if found.reason.code is ReasonCode.PROTOCOL_CHANGED:
            return PlanState.WEARING, found.reason
        if found is FULL_WEAR_UNASKED and self.step < self.terms.top:
            return self._same(Reason(ReasonCode.GOAL_CHANGED))
        return self._same(found.reason)

    def _advance(self) -> tuple[PlanState, Reason]:
        worn_step = self.step
        if worn_step == self.terms.top:
            return PlanState.WEARING, FULL_WEAR_UNASKED.reason
        if worn_step >= self.terms.own_top:
            return self._same(Reason(ReasonCode.TABLE_ENDS))
        self.step = min(worn_step + 1, self.terms.own_top)
        same = self.terms.target(self.step) == self.terms.target(worn_step)
        return PlanState.WEARING, LADDER_SAME if same else CLEAR_CHECK

    def _not_raised(self) -> tuple[PlanState, Reason]:
        at_top = self.step == self.terms.top
        return self._same(Reason(ReasonCode.FULL_WEAR if at_top else ReasonCode.CANNOT_REPORT))

    def _shorter(self, found: Judgement) -> tuple[PlanState, Reason]:
        lower = self.terms.step_down(self.step)
        if found.reason.code is ReasonCode.LAST_TOLERATED:
            self.slowed = True
            lower = min(lower, self.clear_step) or 1
        if lower == self.step:
            return self._same(found.reason)
        self.step = lower
        self.clear_step = min(self.clear_step, lower)
        return PlanState.SHORTER, found.reason

    def _same(self, reason: Reason) -> tuple[PlanState, Reason]:
        left_on = reason.code is ReasonCode.SILENT_PHONED and not may_reduce(self.terms)
        return (PlanState.LEAVE_ON if left_on else PlanState.SAME_TIME), reason

    def _decision(self, state: PlanState, reason: Reason, rests: bool) -> Decision:
        at_top = self.step == self.terms.top
        if not at_top:
            self.full_wear_checks = 0
        elif not rests and (state is PlanState.WEARING or state is PlanState.SAME_TIME):
            state = PlanState.FULL_WEAR
        self.asked = self._expects_check()
        return Decision(state, self.step, reason, self.silent_days, self.stopped_since, rests)
