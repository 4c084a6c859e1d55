"""The benchmark measures what it says: whole plans, and the same instants on both sides. No time is asserted."""

from __future__ import annotations

from followup.clinical.load_protocols import load_protocols
from tests.benchmarks.plan_replay import ZONE, clear_checks, foreseen, instants, measure, plain_loop, replayed


def test_the_plan_that_is_replayed_reaches_full_wear_by_its_clear_checks():
    protocol = load_protocols()["s01"]
    days = replayed(protocol, clear_checks(foreseen(protocol)))
    assert days[-1].target_minutes == 480


def test_the_plain_loop_makes_the_same_instants():
    wanted = instants(foreseen(load_protocols()["s01"]))
    assert plain_loop([at.astimezone(ZONE).replace(tzinfo=None) for at in wanted]) == wanted


def test_it_reports_both_rates():
    rates = measure(plans=3)
    assert rates["replay_days_per_second"] > 0
    assert rates["plain_loop_days_per_second"] > 0
