"""Profiles of the property tests: the usual one gives the same examples every time; ``make fuzz`` runs rounds
of others.
"""

from __future__ import annotations

from hypothesis import HealthCheck, settings

settings.register_profile(
    "usual", deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.register_profile(
    "fuzz", deadline=None, max_examples=300, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("usual")
