"""Nothing looks for rubbish while what is made is all kept, and then as before."""

from __future__ import annotations

import gc

import pytest

from shipping.words.long_work import all_is_kept


@all_is_kept()
def fails() -> None:
    assert not gc.isenabled()
    raise LookupError


@pytest.mark.parametrize("was_looked_for", [True, False])
def test_rubbish_is_looked_for_as_before_even_after_a_mistake(was_looked_for: bool) -> None:
    before = gc.isenabled()
    try:
        (gc.enable if was_looked_for else gc.disable)()
        with pytest.raises(LookupError):
            fails()
        assert gc.isenabled() == was_looked_for
    finally:
        (gc.enable if before else gc.disable)()
