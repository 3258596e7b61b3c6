"""A sentence with values in it: its English out, or the same in a language that has words for it,
``1 egg is`` where a count is one.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from functools import lru_cache, reduce
from string import Formatter

#: The languages that papers and page are written in; in any other they are English.
LANGUAGES = ("en", "de", "fr", "es")


class Sentence(str):
    """English text that still knows the sentence it was made of and what was put into it."""

    __slots__ = ("template", "values")
    template: str
    values: tuple[object, ...]

    def __new__(cls, template: str, values: tuple[object, ...]) -> Sentence:
        filled = dict(zip(fields(template), values, strict=True))
        said = super().__new__(cls, fitted(template, filled).format_map(filled))
        said.template, said.values = template, values
        return said

    def __reduce__(self) -> tuple[type[Sentence], tuple[object, ...]]:
        return Sentence, (self.template, self.values)

    def worded(self, words: Callable[[str], str], shown: Callable[[object], object]) -> str:
        """The sentence in a language: ``words`` has it for a template, ``shown`` for a value."""
        worded = (
            shown(value.worded(words, shown) if isinstance(value, Sentence) else value)
            for value in self.values
        )
        filled = dict(zip(fields(self.template), worded, strict=True))
        return fitted(words(self.template), filled).format_map(filled)


def say(template: str, /, *values: object) -> str:
    """``say("{day} is after today, {today}.", day, today)``: the values in the order of the fields.

    What of the values is ours to translate is a `Sentence` too; any other text is the breeder's own.
    """
    return Sentence(template, values)


@lru_cache(maxsize=2048)
def fields(template: str) -> tuple[str, ...]:
    """The names of the fields, in the order in which they first stand."""
    return tuple(dict.fromkeys(name for _, name, _, _ in Formatter().parse(template) if name is not None))


def either(choices: Iterable[str]) -> str:
    """``a or b or c``; "" where there is none."""
    return reduce(lambda some, other: say("{some} or {other}", some, other) if some else other, choices, "")


def both(parts: Iterable[str]) -> str:
    """``a and b and c``; "" where there is none."""
    return reduce(lambda some, other: say("{some} and {other}", some, other) if some else other, parts, "")


def joined(parts: Iterable[object], between: str = " ") -> str:
    """The parts in one line, each of which keeps what it is; "" where there is none."""
    every = tuple(parts)
    return say(between.join(f"{{part_{number}}}" for number in range(len(every))), *every) if every else ""


#: Words behind a count and what they are behind 1, in the languages of papers and page together; those alike
#: in both stand alone.
_FORMS = """
eggs=egg lines=line days=day parcels=parcel lots=lot orders=order rows=row units=unit tubes=tube
bags=bag weeks=week buyers=buyer files=file tables=table copies=copy entries=entry values=value
looks=look cells=cell columns=column places=place countries=country reports=report hours=hour
pairs=pair problems=problem months=month routes=route kinds=kind services=service sheets=sheet
seconds=second packs=pack labels=label letters=letter characters=character causes=cause parts=part
live dead more working silent kept ordered packed free other further order whole broken are=is
were=was have=has do=does count=counts use=uses wait=waits need=needs go=goes differ=differs
hatch=hatches Eier=Ei Eiern=Ei Zeilen=Zeile Tage=Tag Tagen=Tag Pakete=Paket Paketen=Paket
Ansätze=Ansatz Ansätzen=Ansatz Bestellungen=Bestellung Bestellzeilen=Bestellzeile Einheiten=Einheit
Packungen=Packung Stunden=Stunde Wochen=Woche Dateien=Datei Tabellen=Tabelle Einträge=Eintrag
Einträgen=Eintrag Werte=Wert Zellen=Zelle Spalten=Spalte Werktage=Werktag Arbeitstage=Arbeitstag
Laichtagen=Laichtag Blätter=Blatt Sekunden=Sekunde Buchstaben=Buchstabe lebende=lebendes
freie=freies bestellte=bestelltes weitere lebenden bestellten stummen behaltene weiteren mehr
sind=ist waren=war haben=hat werden=wird wurden=wurde bleiben=bleibt gehen=geht warten=wartet
stehen=steht genügen=genügt zählen=zählt kamen=kam lebten=lebte weichen=weicht œufs=œuf lignes=ligne
jours=jour commandes=commande unités=unité heures=heure semaines=semaine fichiers=fichier
valeurs=valeur cellules=cellule colonnes=colonne entrées=entrée feuilles=feuille secondes=seconde
lettres=lettre caractères=caractère colis vivants=vivant ouvrables=ouvrable commandés=commandé
emballés=emballé libres=libre attendus=attendu trouvés=trouvé rendus=rendu revenus=revenu
comptés=compté retenus=retenu muettes=muette autres=autre éclos ne sont=est étaient=était ont=a
peuvent=peut restent=reste comptent=compte attendent=attend arrivent=arrive devaient=devait
suffiraient=suffirait écloraient=éclorait diffèrent=diffère huevos=huevo líneas=línea días=día
paquetes=paquete lotes=lote pedidos=pedido unidades=unidad horas=hora semanas=semana filas=fila
archivos=archivo tablas=tabla valores=valor celdas=celda columnas=columna anotaciones=anotación
hojas=hoja segundos=segundo letras=letra caracteres=carácter vivos=vivo hábiles=hábil
empaquetados=empaquetado contados=contado reservados=reservado previstos=previsto devueltos=devuelto
calladas=callada más son=es están=está eran=era tienen=tiene fueron=fue quedan=queda esperan=espera
llegan=llega cuentan=cuenta eclosionarían=eclosionaría envoyés=envoyé arrivés=arrivé perdus=perdu
renvoyés=renvoyé enviados=enviado llegados=llegado perdidos=perdido
"""
_ONE: Mapping[str, str] = {
    many: one or many for many, _, one in (pair.partition("=") for pair in _FORMS.split())
}
_FIELD = re.compile(r"\{([a-z_0-9]+)(?::([^{}]*))?\}((?: [^\W\d_]+)+)")
_IN_TEMPLATE = re.compile(r"\{\{ ?([^{}]+?) ?\}\}((?:</b>|</strong>)?)((?: [^\W\d_]+)+)")


def _counted_by(words: str) -> tuple[str, str]:
    """The words that follow a count and go with it, and the same behind 1."""
    counted: list[str] = []
    for word in words.split():
        if word not in _ONE:
            break
        counted.append(word)
    return " ".join(counted), " ".join(_ONE[word] for word in counted)


@lru_cache(maxsize=2048)
def _counts(template: str) -> tuple[tuple[str, str, int, int, str], ...]:
    """Field, its form, and where the words stand that are others behind 1, the last first."""
    found = []
    for field in _FIELD.finditer(template):
        many, one = _counted_by(field[3])
        if many != one:
            begin = field.start(3) + 1
            found.append((field[1], field[2] or "", begin, begin + len(many), one))
    return tuple(reversed(found))


def fitted(template: str, values: Mapping[str, object]) -> str:
    """A sentence with ``{fields}``, its words those of one where a count before them is 1."""
    for name, form, begin, end, one in _counts(template):
        if format(values[name], form) == "1":
            template = template[:begin] + one + template[end:]
    return template


def with_singulars(template: str) -> str:
    """A template with ``{{ fields }}`` that says ``1 egg is`` where the field before ``eggs are`` is one."""

    def by_count(found: re.Match[str]) -> str:
        many, one = _counted_by(found[3])
        if many == one:
            return found[0]
        rest = found[3][1 + len(many) :]
        return f"{{{{ {found[1]} }}}}{found[2]} {{{{ '{one}' if ({found[1]})|one else '{many}' }}}}{rest}"

    return _IN_TEMPLATE.sub(by_count, template)
