"""What a report of arrival means for what was promised: a kept parcel's line in, counts and words out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from shipping.ledger.entries import ClaimOpened, ClaimSettled, LineReport
from shipping.ledger.kept_parcel import NOT_COME, KeptLine, KeptParcel
from shipping.words.sentence import joined, say


@dataclass(frozen=True, slots=True)
class ReportedLine:
    """One line sent: what was ordered, packed and ``expected`` alive, and what was told of it so far;
    ``settled`` is what had been told when its claim was settled, where none was opened since.
    """

    order: str
    line: int
    ordered: int
    packed: int
    expected: float
    report: LineReport | None
    has_come: bool = True
    settled: LineReport | None = None
    sent_again: int = 0

    @classmethod
    def of(cls, parcel: KeptParcel, line: KeptLine) -> ReportedLine:
        shares = {draw.lot: draw.v_per_egg for draw in line.draws}
        counts = [count for count in parcel.counts if (count.order, count.line) == line.key]
        claims = claims_for(parcel, line)
        is_settled = bool(claims) and isinstance(claims[-1], ClaimSettled)
        return cls(
            order=line.order,
            line=line.line,
            ordered=line.ordered,
            packed=parcel.packed_of(line.key),
            expected=sum(count.eggs * shares.get(count.lot, 0.0) for count in counts),
            report=parcel.reports.get(line.key),
            has_come=parcel.state not in NOT_COME,
            settled=parcel.settled_on.get(line.key) if is_settled else None,
            sent_again=sum(claim.eggs for claim in claims if isinstance(claim, ClaimSettled)),
        )

    @property
    def told(self) -> dict[str, int]:
        """Eggs told of by the count's name."""
        return dict(self.report.told) if self.report else {}

    @property
    def living(self) -> int | None:
        """How many live; None where that was not told."""
        return self.report.living if self.report else None

    @property
    def most_alive(self) -> int:
        """So many may be alive at the most, by what was told."""
        return self.packed - self.told.get("dead", 0) - self.told.get("missing", 0)

    @property
    def untold(self) -> int:
        """So many eggs of a line reported are neither told alive nor gone."""
        return max(0, self.packed - sum(self.told.values())) if self.living is not None else 0

    @property
    def short_by(self) -> int:
        """So many eggs are wanting for what was ordered, by what was told; all where it did not come."""
        if not self.has_come:
            return self.ordered
        most = self.most_alive if self.living is None else self.living
        return max(0, self.ordered - most) if self.told else 0

    @property
    def short_since(self) -> int:
        """So many more are wanting than did when its claim was settled, or than are sent again for it."""
        if self.settled is None:
            return 0
        then = replace(self, report=self.settled, has_come=True).short_by
        return max(0, self.short_by - max(then, self.sent_again))

    @property
    def is_to_settle(self) -> bool:
        """Did it come short, or not at all, and nothing is settled that knew so much?"""
        return bool(self.short_by if self.settled is None else self.short_since)

    @property
    def words_of_short_since(self) -> str:
        """How much worse it is than what was settled; "" where it is not."""
        if not self.short_since:
            return ""
        return say("{eggs} eggs short beyond what was settled", self.short_since)

    @property
    def words(self) -> str:
        """Forecast against fact, in a sentence or two."""
        about = f"{self.expected:.0f}"
        if not self.told:
            return say(
                "{packed} packed for {ordered} ordered. No report yet; about {expected} should be alive.",
                *(self.packed, self.ordered, about),
            )
        if self.living is None:
            return self._words_of_gone()
        fact = (self.living, self.packed, about, self.ordered)
        if self.short_by:
            return say(
                "{living} of {packed} alive, about {expected} expected, {ordered} ordered: {short} short of"
                " the promise.",
                *(*fact, self.short_by),
            )
        return say(
            "{living} of {packed} alive, about {expected} expected, {ordered} ordered: the promise was kept.",
            *fact,
        )

    def _words_of_gone(self) -> str:
        """Where only dead or missing eggs were told of."""
        gone = (self.packed - self.most_alive, self.packed, self.most_alive, self.ordered)
        if not self.most_alive:
            return say("None of {packed} alive, {ordered} ordered.", self.packed, self.ordered)
        if not self.short_by:
            return say(
                "{gone} of {packed} dead or missing: at most {most} alive, {ordered} ordered. How many live"
                " was not told.",
                *gone,
            )
        return say(
            "{gone} of {packed} dead or missing: at most {most} alive, {ordered} ordered, so {short} short at"
            " least. How many live was not told.",
            *(*gone, self.short_by),
        )

    @property
    def words_of_untold(self) -> str:
        """How many eggs a report leaves out; "" for none."""
        return say("Nothing was told of the other {untold}.", self.untold) if self.untold else ""


def claims_for(parcel: KeptParcel, line: KeptLine) -> list[ClaimOpened | ClaimSettled]:
    """What was claimed and settled for a line, oldest first."""
    return [claim for claim in parcel.claims if (claim.order, claim.line) == line.key]


def report_notes(parcel: KeptParcel) -> Iterator[str]:
    """What the reports of a parcel just recorded mean, line by line."""
    for line in parcel.lines:
        found = ReportedLine.of(parcel, line)
        if found.told:
            named = f"{line.order}:{line.line}:"
            yield joined(filter(None, (named, found.words, found.words_of_untold)))
            if since := found.words_of_short_since:
                yield joined((named, since))
