"""Numbers put in are drawn alike often, those taken out never, and the same chance draws the same."""

from __future__ import annotations

from collections import Counter
from random import Random

from shipping.assignment.random_set import RandomSet


def of(*numbers: int) -> RandomSet:
    made = RandomSet()
    for number in numbers:
        made.add(number)
    return made


def test_it_holds_what_a_set_would() -> None:
    chance, made, plain = Random(1), RandomSet(), set[int]()
    for _ in range(500):
        number = chance.randrange(12)
        if chance.random() < 0.5:
            made.add(number)
            plain.add(number)
        else:
            made.discard(number)
            plain.discard(number)
        assert len(made) == len(plain)
        assert set(made.some(chance, 99)) == plain


def test_each_number_is_drawn_about_as_often() -> None:
    made, chance = of(3, 5, 8, 13), Random(2)
    made.discard(5)
    drawn = Counter(made.one(chance) for _ in range(3000))
    assert set(drawn) == {3, 8, 13}
    assert min(drawn.values()) > 900


def test_some_are_different_numbers_and_no_more_than_there_are() -> None:
    made = of(1, 2, 3, 4)
    assert len(set(made.some(Random(1), 3))) == 3
    assert sorted(made.some(Random(1), 9)) == [1, 2, 3, 4]
    assert RandomSet().some(Random(1), 3) == []


def test_the_same_chance_draws_the_same() -> None:
    assert [of(*range(9)).one(Random(n)) for n in range(20)] == [
        of(*range(9)).one(Random(n)) for n in range(20)
    ]
