"""Answers are given of plans and outlooks that are reckoned once."""

from tests.reckoned_once import reckoned_once as reckoned_once
