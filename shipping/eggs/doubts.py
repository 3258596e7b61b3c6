"""Why nothing of a lot may be packed before a person looks: a forecast, a code and a day in, the reason in
words out.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

from shipping.eggs.looks import Sighting
from shipping.tables.rows.lots import Bound
from shipping.words.reasons import Reason
from shipping.words.units import percent

if TYPE_CHECKING:
    from shipping.eggs.lot_forecast import LotForecast


def doubt(forecast: LotForecast, code: str, day: date) -> Reason:
    """The reason of a code that `LotForecast.doubts_on` gave for a day."""
    lot = forecast.lot
    facts: dict[str, object] = {
        "lot": lot.lot,
        "last_seen": forecast.last_seen.isoformat(),
        "whole_by_the_table": round(forecast.prior_whole(forecast.last_seen), 6),
    }
    if code == "recount" and forecast.recount:
        text = _recount_text(lot.lot, forecast.recount)
        return Reason(code, text, facts | {"excess": forecast.recount.excess}, "looks")
    if code == "overdue":
        return Reason(code, _overdue_text(forecast), facts, lot.cited)
    if code == "misdated":
        return Reason(code, _misdated_text(forecast), facts | {"likelihood": forecast.likelihood}, "clock")
    if code == "past-wetting" and forecast.last_wetting:
        facts["last_wetting_day"] = forecast.last_wetting.isoformat()
        return Reason(code, _past_wetting_text(forecast), facts, lot.cited)
    text = (
        f"Lot {lot.lot} was last seen whole on {forecast.last_seen}; by {day} it is presumed hatched "
        f"({percent(forecast.prior_whole(day))} would be whole). Look, and write down what you see."
    )
    return Reason(code, text, facts | {"on": day.isoformat()}, "clock")


def late_for_wetting(forecast: LotForecast, last: date, arrival: date) -> Reason:
    """The reason of eggs kept damp that would still be on the way after their last wetting day."""
    lot = forecast.lot.lot
    text = (
        f"Lot {lot} must be wetted by {last}, and the 95 % arrival is {arrival}: take a faster service or an"
        " earlier day."
    )
    facts: dict[str, object] = {"lot": lot, "last_wetting_day": last.isoformat(), "p95": arrival.isoformat()}
    return Reason("past-wetting", text, facts, forecast.lot.cited)


def _past_wetting_text(forecast: LotForecast) -> str:
    lot, until = forecast.lot, forecast.wetting[1]
    whose = "as you wrote" if lot.wet_until else "by the clock"
    return (
        f"Lot {lot.lot} was to be wetted by {until} ({whose}), and eggs that are ready keep damp for"
        f" {forecast.species.keeps_ready_d:g} days: {forecast.last_wetting} has passed. Look, and write down"
        " what you see; live eggs move the day."
    )


def _overdue_text(forecast: LotForecast) -> str:
    days = forecast.species.hatch_days
    return (
        f"Lot {forecast.lot.lot} was whole on {forecast.last_seen}, when by the table (hatching"
        f" {days.early:g} to {days.late:g} days at {forecast.species.incubation_c:g} °C) under 1 % should be."
        " It may wait for a cue and hatch any day: look, and do not put it in a tube."
        f"{_of_another_year(forecast)}"
    )


def _of_another_year(forecast: LotForecast) -> str:
    """A question about the year, where eggs laid a year later would fit what was seen; else nothing.

    Eggs in water end within weeks; their age of a year or more is mostly a year typed wrongly.
    """
    lot = forecast.lot
    later = lot.laid_to + timedelta(days=365)
    if later > forecast.last_seen:
        return ""
    return f" Or was it laid in {later.year}, not in {lot.laid_to.year}? Then mend laid_from and laid_to."


def _recount_text(lot: str, bound: Bound) -> str:
    look = bound.look
    if bound.column == "alive":
        said = f"{look.alive} eggs counted on {look.on}, {bound.excess} more than can be there ({bound.most})"
    else:
        said = (
            f"{bound.most + bound.excess} hatched or removed on {look.on}, of {bound.most} that can be left"
        )
    return f"Lot {lot}: {said}. Count again, or correct the earlier count ({look.cited})."


def _misdated_text(forecast: LotForecast) -> str:
    """Which look and which value of the table disagree most."""
    lot, species = forecast.lot, forecast.species
    worst = min(
        (seen for seen in forecast.sightings if seen.stage and seen.stage != "laid"),
        key=lambda seen: _likelihood_of(forecast, seen),
    )
    return (
        f"Lot {lot.lot}: '{worst.stage}' on {worst.on} ({worst.row}) does not fit laying {lot.laid_from} "
        f"to {lot.laid_to}, {lot.kept_at_c:g} °C and hatching {species.hatch_early_d:g} to "
        f"{species.hatch_late_d:g} days at {species.incubation_c:g} °C (chance {forecast.likelihood:.1e}). "
        f"Look again: either the stage or one of those values is wrong.{_of_another_year(forecast)}"
    )


def _likelihood_of(forecast: LotForecast, sighting: Sighting) -> float:
    """The likelihood of one look alone, given that eggs live on its day."""
    at = forecast.x(sighting.on)
    seen = forecast.prior.seen(sighting.stage or "laid", at, forecast.species, forecast.look_spread)
    before = float(forecast.prior.whole(at)[0])
    return float(seen.whole(at)[0]) / before if before > 0 else 0.0
