"""A lot of which a good part should have hatched unseen: its forecast in; what to ask the breeder out.

Silence is not death: nothing is taken as known. Eggs kept damp wait whole, and are not asked about.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, timedelta
from functools import lru_cache

from shipping.eggs.lot_forecast import LotForecast
from shipping.words.sentence import joined, say
from shipping.words.units import short_day

#: From this share of the eggs last seen on a look is asked for; hatching began where so many had. Ours.
GOOD_PART, FIRST_PART = 0.5, 0.05


def asks_for_a_look(forecast: LotForecast) -> bool:
    """Is it to be looked at today, whatever is planned: do looks and clock disagree, with no look of today
    that tells no more, or should a good part have hatched unseen?
    """
    today = forecast.today
    doubts = forecast.doubts_on((today,))[0]
    return not forecast.only_waits(today) if doubts else should_have_hatched(forecast) is not None


def unseen_text(forecast: LotForecast) -> str:
    """The same in one line; "" where nothing is to be said."""
    return joined(should_have_hatched(forecast) or ())


def should_have_hatched(forecast: LotForecast) -> tuple[str, str] | None:
    """What to say of a lot that should be hatching, and what to do; None where `unseen_facts` has none."""
    facts = unseen_facts(forecast)
    if not facts:
        return None
    text = say(
        "Of lot {lot} about {hatched} of {there} eggs should have hatched since {day}.",
        *(
            forecast.lot.lot,
            facts["gone"],
            facts["there"],
            short_day(date.fromisoformat(str(facts["since"]))),
        ),
    )
    return text, say("Look, feed the fry and count what is left.")


@lru_cache(maxsize=512)
def unseen_facts(forecast: LotForecast) -> Mapping[str, object]:
    """How many eggs of how many should have hatched, and since when; none before the day after its
    first should have, where no egg of it is here, and where `LotForecast.doubts` asks for a look already.
    """
    today, seen = forecast.today, forecast.last_seen
    if forecast.doubts_on((today,))[0]:
        return {}
    days = [seen + timedelta(days=n) for n in range(max(0, (today - seen).days) + 1)]
    whole = forecast.alike.whole_on(days)
    hatched = 1.0 - whole / whole[0] if whole[0] > 0 else whole
    there = replace(forecast, held=()).eggs_on(seen)
    many = round(there * float(hatched[-1]))
    since = next((day for day, share in zip(days, hatched, strict=True) if share >= FIRST_PART), today)
    if hatched[-1] < GOOD_PART or not many or since >= today:
        return {}
    return {"gone": many, "there": there, "since": since.isoformat()}
