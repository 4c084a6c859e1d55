"""Why a day of the plan is as it is: a code with its minutes, and the sentence made from it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from enum import StrEnum
from typing import NamedTuple

from followup.core.sentences import duration


class ReasonCode(StrEnum):
    """Every reason a day can have."""

    FIRST_DAY = "first_day"
    CLEAR_CHECK = "clear_check"
    LADDER_SAME = "ladder_same"
    FULL_WEAR = "full_wear"
    MARK_FADED = "mark_faded"
    MARK_NOT_TIMED = "mark_not_timed"
    COULD_NOT_SAY = "could_not_say"
    CHECKED_TOO_EARLY = "checked_too_early"
    CHECKED_BEFORE_END = "checked_before_end"
    TOUCH_NEEDED = "touch_needed"
    WORN_TOO_LITTLE = "worn_too_little"
    NO_WEAR_PLANNED = "no_wear_planned"
    MISSED_CHECK = "missed_check"
    SILENT_PHONED = "silent_phoned"
    CANNOT_REPORT = "cannot_report"
    REPORT_SAME_TIME = "report_same_time"
    DISCOMFORT = "discomfort"
    DISCOMFORT_AGAIN = "discomfort_again"
    REPORT_SHORTER = "report_shorter"
    MARK_OUTLASTED = "mark_outlasted"
    MARK_WITHOUT_WEAR = "mark_without_wear"
    BROKEN_SKIN = "broken_skin"
    SORE_SKIN = "sore_skin"
    REPORT_OFF = "report_off"
    SILENT_OFF = "silent_off"
    REPORT_LEAVE_ON = "report_leave_on"
    CLINICIAN_AS_PLANNED = "clinician_as_planned"
    CLINICIAN_RESUME = "clinician_resume"
    CLINICIAN_RESTART = "clinician_restart"
    CLINICIAN_SAME_TIME = "clinician_same_time"
    CLINICIAN_SHORTER = "clinician_shorter"
    CLINICIAN_OFF = "clinician_off"
    CLINICIAN_LEAVE_ON = "clinician_leave_on"
    WINDOW_TOO_SHORT = "window_too_short"
    REPORT_OPEN = "report_open"
    MARK_AGAIN = "mark_again"
    LAST_TOLERATED = "last_tolerated"
    REST_OF_DAY = "rest_of_day"
    TABLE_ENDS = "table_ends"
    REST_DAY = "rest_day"
    AWAY = "away"
    BACK_WAITS = "back_waits"
    WAITS_FOR_START_STEP = "waits_for_start_step"
    REPAIRED = "repaired"
    RETURNED_UNCHANGED = "returned_unchanged"
    PROTOCOL_CHANGED = "protocol_changed"
    GOAL_CHANGED = "goal_changed"
    PLAN_ENDED = "plan_ended"


class Lead(StrEnum):
    """How the day compares with the last one worn; the beginning of its sentence."""

    FIRST = "first"
    MORE = "more"
    SAME = "same"
    LESS = "less"
    OFF = "off"
    LEAVE_ON = "leave_on"
    NONE = "none"
    TODAY = "today"


class Reason(NamedTuple):
    """A reason with the minutes its sentence needs: the day's target, and for a mark or wear what was reported."""

    code: ReasonCode
    lead: Lead = Lead.TODAY
    target_minutes: int = 0
    minutes: int = 0
    limit_minutes: int = 0


_LEADS: Mapping[str, Mapping[Lead, str]] = {
    "en": {
        Lead.FIRST: "{target} on the first day",
        Lead.MORE: "{target} today, more than yesterday",
        Lead.SAME: "the same {target} as yesterday",
        Lead.LESS: "{target} today, shorter than yesterday",
        Lead.OFF: "no time today, off until we speak",
        Lead.LEAVE_ON: "leave it on as ordered",
        Lead.NONE: "no time today",
        Lead.TODAY: "{target} today",
    },
    "es": {
        Lead.FIRST: "{target} el primer día",
        Lead.MORE: "{target} hoy, más que ayer",
        Lead.SAME: "lo mismo que ayer, {target}",
        Lead.LESS: "{target} hoy, menos que ayer",
        Lead.OFF: "hoy nada, sin ponerse hasta que hablemos",
        Lead.LEAVE_ON: "déjelo puesto como se indicó",
        Lead.NONE: "hoy no se pone",
        Lead.TODAY: "{target} hoy",
    },
}

_CAUSES: Mapping[str, Mapping[ReasonCode, str]] = {
    "en": {
        ReasonCode.FIRST_DAY: "the plan begins",
        ReasonCode.CLEAR_CHECK: "the skin was clear",
        ReasonCode.LADDER_SAME: "the skin was clear, and the plan keeps this time for now",
        ReasonCode.FULL_WEAR: "this is full wear",
        ReasonCode.MARK_FADED: "the mark took {minutes} to fade",
        ReasonCode.MARK_NOT_TIMED: "a mark was seen and nobody could say how long it lasted",
        ReasonCode.COULD_NOT_SAY: "nobody could say how the skin looked",
        ReasonCode.CHECKED_TOO_EARLY: "the skin was last looked at less than {limit} after removal",
        ReasonCode.CHECKED_BEFORE_END: "the skin was looked at before the day's wear was done",
        ReasonCode.TOUCH_NEEDED: "the skin was not felt by hand",
        ReasonCode.WORN_TOO_LITTLE: "it was worn for {minutes}",
        ReasonCode.NO_WEAR_PLANNED: "nothing was worn",
        ReasonCode.MISSED_CHECK: "no skin check reached us",
        ReasonCode.SILENT_PHONED: "no skin check reached us, so we phone today",
        ReasonCode.CANNOT_REPORT: "more time is given only after a clinician has spoken to you",
        ReasonCode.REPORT_SAME_TIME: "something was reported",
        ReasonCode.DISCOMFORT: "it was uncomfortable",
        ReasonCode.DISCOMFORT_AGAIN: "it was uncomfortable twice within 7 days, so a clinician will speak to you",
        ReasonCode.REPORT_SHORTER: "something was reported",
        ReasonCode.MARK_OUTLASTED: "the mark lasted {minutes}, longer than {limit}",
        ReasonCode.MARK_WITHOUT_WEAR: "a mark was seen on a day without wear",
        ReasonCode.BROKEN_SKIN: "the skin was broken or blistered",
        ReasonCode.SORE_SKIN: "the skin was sore or broken",
        ReasonCode.REPORT_OFF: "something was reported",
        ReasonCode.SILENT_OFF: "no skin check reached us",
        ReasonCode.REPORT_LEAVE_ON: "something was reported, and a clinician speaks to you today",
        ReasonCode.CLINICIAN_AS_PLANNED: "the clinician said to keep to the plan",
        ReasonCode.CLINICIAN_RESUME: "the clinician said to go on",
        ReasonCode.CLINICIAN_RESTART: "the clinician said to begin again",
        ReasonCode.CLINICIAN_SAME_TIME: "the clinician said the same time again",
        ReasonCode.CLINICIAN_SHORTER: "the clinician said a shorter time",
        ReasonCode.CLINICIAN_OFF: "the clinician said so",
        ReasonCode.CLINICIAN_LEAVE_ON: "the clinician said so",
        ReasonCode.WINDOW_TOO_SHORT: "the hours of the day hold no more than {minutes}",
        ReasonCode.REPORT_OPEN: "something was reported and has not been judged yet",
        ReasonCode.MARK_AGAIN: "a mark came back at the same place within 48 hours, so a clinician will speak to you",
        ReasonCode.LAST_TOLERATED: "it was uncomfortable, so we go back to the last time that was comfortable",
        ReasonCode.REST_OF_DAY: "it was uncomfortable, so it stayed off for the rest of that day",
        ReasonCode.TABLE_ENDS: "the schedule ends here, and your clinician says how to go on",
        ReasonCode.REST_DAY: "this is a day without it",
        ReasonCode.AWAY: "the plan rests while you are away",
        ReasonCode.BACK_WAITS: "you are back, and your clinician says how to begin again",
        ReasonCode.WAITS_FOR_START_STEP: "it was worked on, and your clinician says how to begin again",
        ReasonCode.REPAIRED: "it was repaired",
        ReasonCode.RETURNED_UNCHANGED: "it came back unchanged",
        ReasonCode.PROTOCOL_CHANGED: "the clinician chose another schedule",
        ReasonCode.GOAL_CHANGED: "the hours of the day were changed",
        ReasonCode.PLAN_ENDED: "this plan has ended",
    },
    "es": {
        ReasonCode.FIRST_DAY: "el plan empieza",
        ReasonCode.CLEAR_CHECK: "la piel estaba bien",
        ReasonCode.LADDER_SAME: "la piel estaba bien y el plan mantiene este tiempo por ahora",
        ReasonCode.FULL_WEAR: "es el tiempo completo",
        ReasonCode.MARK_FADED: "la marca tardó {minutes} en irse",
        ReasonCode.MARK_NOT_TIMED: "se vio una marca y nadie pudo decir cuánto duró",
        ReasonCode.COULD_NOT_SAY: "nadie pudo decir cómo estaba la piel",
        ReasonCode.CHECKED_TOO_EARLY: "la piel se miró antes de pasar {limit} sin llevarla puesta",
        ReasonCode.CHECKED_BEFORE_END: "la piel se miró antes de acabar el tiempo del día",
        ReasonCode.TOUCH_NEEDED: "la piel no se tocó con la mano",
        ReasonCode.WORN_TOO_LITTLE: "se llevó puesta {minutes}",
        ReasonCode.NO_WEAR_PLANNED: "no se llevó puesta",
        ReasonCode.MISSED_CHECK: "no nos llegó ninguna revisión de la piel",
        ReasonCode.SILENT_PHONED: "no nos llegó ninguna revisión de la piel y hoy llamamos",
        ReasonCode.CANNOT_REPORT: "solo se da más tiempo después de hablar con el clínico",
        ReasonCode.REPORT_SAME_TIME: "nos contaron algo",
        ReasonCode.DISCOMFORT: "molestaba",
        ReasonCode.DISCOMFORT_AGAIN: "molestó dos veces en 7 días y el clínico hablará con usted",
        ReasonCode.REPORT_SHORTER: "nos contaron algo",
        ReasonCode.MARK_OUTLASTED: "la marca duró {minutes}, más de {limit}",
        ReasonCode.MARK_WITHOUT_WEAR: "se vio una marca en un día sin llevarla puesta",
        ReasonCode.BROKEN_SKIN: "la piel estaba abierta o con ampolla",
        ReasonCode.SORE_SKIN: "la piel estaba irritada o abierta",
        ReasonCode.REPORT_OFF: "nos contaron algo",
        ReasonCode.SILENT_OFF: "no nos llegó ninguna revisión de la piel",
        ReasonCode.REPORT_LEAVE_ON: "nos contaron algo, y el clínico habla con usted hoy",
        ReasonCode.CLINICIAN_AS_PLANNED: "el clínico dijo que siga el plan",
        ReasonCode.CLINICIAN_RESUME: "el clínico dijo que continúe",
        ReasonCode.CLINICIAN_RESTART: "el clínico dijo que empiece de nuevo",
        ReasonCode.CLINICIAN_SAME_TIME: "el clínico dijo el mismo tiempo otra vez",
        ReasonCode.CLINICIAN_SHORTER: "el clínico dijo menos tiempo",
        ReasonCode.CLINICIAN_OFF: "lo dijo el clínico",
        ReasonCode.CLINICIAN_LEAVE_ON: "lo dijo el clínico",
        ReasonCode.WINDOW_TOO_SHORT: "las horas del día no dan para más de {minutes}",
        ReasonCode.REPORT_OPEN: "nos contaron algo y todavía no se ha valorado",
        ReasonCode.MARK_AGAIN: "volvió una marca en el mismo sitio antes de 48 horas y el clínico hablará con usted",
        ReasonCode.LAST_TOLERATED: "molestaba y volvemos al último tiempo que fue cómodo",
        ReasonCode.REST_OF_DAY: "molestaba y no se puso más ese día",
        ReasonCode.TABLE_ENDS: "el calendario acaba aquí y su clínico dirá cómo seguir",
        ReasonCode.REST_DAY: "es un día sin ponerse",
        ReasonCode.AWAY: "el plan descansa mientras están fuera",
        ReasonCode.BACK_WAITS: "han vuelto y su clínico dirá cómo empezar de nuevo",
        ReasonCode.WAITS_FOR_START_STEP: "se hicieron cambios y su clínico dirá cómo empezar de nuevo",
        ReasonCode.REPAIRED: "se reparó",
        ReasonCode.RETURNED_UNCHANGED: "volvió sin cambios",
        ReasonCode.PROTOCOL_CHANGED: "el clínico eligió otro calendario",
        ReasonCode.GOAL_CHANGED: "cambiaron las horas del día",
        ReasonCode.PLAN_ENDED: "este plan ha terminado",
    },
}


def sentence(reason: Reason, language: str = "en") -> str:
    """One plain sentence, such as ``the same 2 h as yesterday: the mark took 35 minutes to fade``."""
    return day_sentence((reason,), language)


def day_sentence(reasons: Sequence[Reason], language: str = "en") -> str:
    """The sentence of a whole day: how it compares with the day before, then every cause."""
    if not reasons:
        return ""
    lead = _LEADS[language][reasons[0].lead].format(target=duration(reasons[0].target_minutes, language))
    return f"{lead}: {'; '.join(cause(each, language) for each in reasons)}"


def cause(reason: Reason, language: str = "en") -> str:
    """The cause alone, without how the day compares with the one before."""
    words = _CAUSES[language][reason.code]
    facts = {"minutes": duration(reason.minutes, language), "limit": duration(reason.limit_minutes, language)}
    return words.format(**facts)
