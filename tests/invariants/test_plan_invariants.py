"""What must always hold for wear plans, on stories searched for a counterexample."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.invariants import plan_invariants as always
from tests.invariants.plan_stories import Plans, Story, make_story

REAL = Plans()


@pytest.mark.parametrize(
    "invariant",
    [
        always.never_above_the_published_upper_end,
        always.periods_are_the_target,
        always.raised_only_after_a_clear_check,
        always.nothing_after_a_stopping_finding,
        always.protective_is_never_reduced,
        always.issued_days_stay_as_issued,
        always.worse_checks_never_give_more,
        always.silence_never_raises,
        always.order_of_the_file_does_not_matter,
    ],
    ids=lambda each: each.__name__,
)
@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_a_plan_always_keeps(invariant: Callable[[Plans, Story], None], data: st.DataObject) -> None:
    invariant(REAL, make_story(lambda choices: data.draw(st.sampled_from(choices))))
