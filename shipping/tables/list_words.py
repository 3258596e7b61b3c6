"""A word typed into a cell of a few words, in any language of the page, in; the list's own word out."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from functools import lru_cache

from shipping.tables.spelling import folded
from shipping.words.sentence import LANGUAGES
from shipping.words.units import shipped_folder

#: What breeders write beside the words of our own wordings.
_ALSO = """
yes oui sí si
no nein non
coir kokos coco
counted compté comptés contado contados
estimated estimé estimés estimado estimados
laid frisch pondu pondus puesto puestos
fertile befruchtet fécondé fécondés fértil fecundado
eyed augen ojos yeux augenpunkte augenpunktstadium embryonné œillé oeillé embrionado
ready schlupfreif prêt prêts listo listos
captive nachzucht élevage cría
wild wildfang sauvage salvaje
open offen erlaubt ouvert autorisé abierto permitido
closed gesperrt verboten fermé interdit cerrado prohibido
ask fragen anfragen nachfragen demander preguntar
papers papiere papiers papeles
usual üblich habituel usual
none keine aucun ninguno
assumed angenommen supposé supuesto
published veröffentlicht publié publicado
learned gelernt appris aprendido
"""

#: What the stages of eggs are called wherever the page says or asks for one.
STAGE_WORDS = {"laid": "fresh", "fertile": "live, no eyes", "eyed": "eyes show", "ready": "ready to hatch"}


def meant_in_list(typed: str, words: Collection[str]) -> str:
    """The one of the words that a word of another language means; "" where none does, or several may."""
    plain = folded(typed)
    meant = [word for word in words if plain in said_elsewhere().get(word, ())]
    return meant[0] if len(meant) == 1 else ""


@lru_cache(maxsize=1)
def said_elsewhere() -> Mapping[str, frozenset[str]]:
    """What other languages call a word, as page and papers call it, and `_ALSO`."""
    said: dict[str, set[str]] = {}
    for word, *others in (row.split() for row in _ALSO.strip().splitlines()):
        said.setdefault(word, set()).update(map(folded, others))
    for word, shown in STAGE_WORDS.items():
        said.setdefault(word, set()).add(folded(shown))
    for language in LANGUAGES[1:]:
        folder = shipped_folder("templates") / "wording" / language
        page, terms = ((folder / f"{name}.md").read_text(encoding="utf-8") for name in ("page", "terms"))
        shown_for = {shown: word for word, shown in STAGE_WORDS.items()}
        for word, other in re.findall(r"^> ([a-z, ]{2,20})\n(.+)$", page, re.MULTILINE):
            said.setdefault(shown_for.get(word, word), set()).add(folded(other))
        for key, other in re.findall(r"^- (?:medium_|stage_)?([a-z_]{2,20}): (.+)$", terms, re.MULTILINE):
            said.setdefault(key.replace("_", " "), set()).add(folded(other))
    return {word: frozenset(others) for word, others in said.items()}
