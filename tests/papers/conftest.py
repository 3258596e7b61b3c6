"""The sample week, printed once for all tests of the papers."""

from __future__ import annotations

from pathlib import Path

import pytest

from shipping.papers.documents.contents import PaperInputs
from shipping.papers.wording.language import SPOKEN
from shipping.papers.wording.phrases import Wording
from shipping.papers.writing import KINDS, write_papers
from shipping.words.sentence import LANGUAGES
from tests.papers import sample
from tests.reckoned_once import reckoned_once as reckoned_once


@pytest.fixture(scope="session")
def printed_week(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder with the papers of the sample week, as they are printed without a wish."""
    folder = tmp_path_factory.mktemp("papers")
    write_papers(sample.PLAN, sample.SHELF, folder, items=sample.ITEMS)
    return folder


@pytest.fixture(scope="session")
def each_paper(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder with every kind of paper of the sample week in a file of its own."""
    folder = tmp_path_factory.mktemp("each")
    write_papers(sample.PLAN, sample.SHELF, folder, items=sample.ITEMS, only=KINDS)
    return folder


@pytest.fixture(scope="session")
def inputs() -> PaperInputs:
    """What papers are made from, for the sample week."""
    languages = dict.fromkeys((*LANGUAGES, *SPOKEN.values()))
    wordings = {language: Wording(None, language) for language in languages}
    return PaperInputs(sample.PLAN, sample.SHELF, wordings, sample.ITEMS)
