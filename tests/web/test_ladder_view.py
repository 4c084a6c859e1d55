from __future__ import annotations

from followup.services.see_wearers import see_wearer
from followup.web.ladder_view import view_ladder
from followup.web.site_parts import SiteParts
from tests.web.a_practice import PracticeAtWork


def test_a_shorter_tomorrow_is_not_promised_as_a_reward(rooms: PracticeAtWork) -> None:
    today, tomorrow = see_wearer(rooms.practice, rooms.start(), rooms.clock()).plan[:2]
    parts: SiteParts = rooms.site.state.parts
    shorter = (today, tomorrow._replace(target_minutes=15))
    shown = view_ladder(shorter, today, 480, parts.staff_voice())
    assert shown is not None
    assert shown.caption.endswith("Tomorrow is 15 minutes.")
