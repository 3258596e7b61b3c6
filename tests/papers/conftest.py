"""The sample week, printed once for all tests of the papers."""

from __future__ import annotations

from pathlib import Path

import pytest

from shipping.papers.documents.contents import Desk
from shipping.papers.documents.label import HANDLING_LANGUAGES
from shipping.papers.wording.language import LANGUAGES
from shipping.papers.wording.phrases import Wording
from shipping.papers.writing import write_papers
from tests.papers import sample


@pytest.fixture(scope="session")
def printed_week(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder with all papers of the sample week."""
    folder = tmp_path_factory.mktemp("papers")
    write_papers(sample.PLAN, sample.SHELF, folder, items=sample.ITEMS)
    return folder


@pytest.fixture(scope="session")
def desk() -> Desk:
    """What papers are made from, for the sample week."""
    languages = dict.fromkeys((*LANGUAGES, *HANDLING_LANGUAGES.values()))
    wordings = {language: Wording(None, language) for language in languages}
    return Desk(sample.PLAN, sample.SHELF, wordings, sample.ITEMS)
