"""What the ledger keeps is of plans that are reckoned once."""

from tests.reckoned_once import reckoned_once as reckoned_once
