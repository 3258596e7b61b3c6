"""What the shelf itself has against cold is told: a box no packing names, a service the order does not."""

from __future__ import annotations

from shipping.papers.wording.phrases import english, next_step
from shipping.tables.rows.packings import Box
from shipping.tables.rows.weather import Weather
from shipping.words.reasons import Reason, Verdict, decisive
from tests.post.a_shelf import a_price, a_service
from tests.week.a_week import TUBE, a_row, a_week, plan_of

COLD = tuple(Weather(to="*", month=month, low_c=7, high_c=20) for month in range(1, 13))
THIN = Box(box="thin box", tare_g=40, holds=6, rigid=True)
WARM = Box(box="warm box", tare_g=200, holds=6, rigid=True, insulated_h=30)
IN_THIN = TUBE.model_copy(update={"box": "thin box"})
FAST = a_service(service="fast", early_d=1, usual_d=1, late_d=1, live_eggs="yes", exposed_h=0)
SLOW = a_service(early_d=1, usual_d=1, late_d=1, live_eggs="yes", exposed_h=12)
PRICES = tuple(a_price("*", most, "6", service=name) for name in ("letter", "fast") for most in (100, 2000))


def told(*boxes: Box, **cells: object) -> Reason:
    services = (SLOW, FAST) if cells else (SLOW,)
    tables = {"weather": COLD, "packings": (IN_THIN,), "boxes": boxes, "postage": PRICES}
    (left,) = plan_of(a_week(a_row("A", **cells), services=services, **tables)).lines_out
    reason = decisive(left.verdict, left.reasons)
    assert (left.verdict, reason.code) == (Verdict.STOP, "too-cold")
    return reason


def test_a_box_of_the_shelf_that_bridges_the_cold_is_named_with_the_packing_it_is_for() -> None:
    reason = told(THIN, WARM)
    assert (reason.facts["in_box"], reason.facts["in_packing"]) == ("warm box", IN_THIN.packing)
    step = next_step(reason, english())
    assert (
        step == f"warm box of your boxes bridges it: write {IN_THIN.packing} in that box as a row of packings"
    )
    packed = TUBE.model_copy(update={"packing": "tube in warm box", "box": "warm box"})
    again = a_week(a_row("A"), services=(SLOW,), weather=COLD, packings=(IN_THIN, packed), boxes=(THIN, WARM))
    assert not plan_of(again).lines_out


def test_a_box_in_which_it_would_not_go_is_not_named() -> None:
    """Not one that holds warmth too short a time, nor one too heavy for the post, nor too small."""
    brief, heavy = WARM.model_copy(update={"insulated_h": 0.5}), WARM.model_copy(update={"tare_g": 3000.0})
    for box in (brief, heavy, WARM.model_copy(update={"holds": 0})):
        assert next_step(told(THIN, box), english()).startswith("an insulated box")


def test_a_service_that_would_do_is_named_where_the_order_names_another() -> None:
    reason = told(THIN, service="letter")
    assert reason.facts["by"] == "fast"
    assert next_step(reason, english()).startswith("by fast it would go: ask the buyer")
