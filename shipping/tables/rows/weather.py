"""What a parcel is expected to feel, by place and month."""

from __future__ import annotations

from typing import Annotated, ClassVar

from pydantic import BeforeValidator

from shipping.tables.cells import Celsius, Key, Row, whole_between

Month = Annotated[int, BeforeValidator(whole_between(1, 12))]


class Weather(Row):
    """One row of ``weather``; ``to`` is a country, a country-subdivision or a zone."""

    cited_by: ClassVar[tuple[str, ...]] = ("to", "month")

    to: Key
    month: Month
    low_c: Celsius
    high_c: Celsius
