"""What parts of a country are called in the languages of the page, beside the names of calendars."""

from __future__ import annotations

from collections.abc import Mapping

#: By country: the code of ISO 3166-2 without the country, and names in English, German, French, Spanish and
#: the country's own tongues (usage, no source), without accents and capitals.
NAMES_OF_PARTS = {
    "AT": """
1 burgenland
2 carinthia|karnten|kaernten|carinthie|carintia
3 lower austria|niederosterreich|niederoesterreich|basse-autriche|baja austria
4 upper austria|oberosterreich|oberoesterreich|haute-autriche|alta austria
5 salzbourg|salzburgo
6 styria|steiermark|styrie|estiria
7 tyrol|tirol
9 vienna|wien|vienne|viena""",
    "AU": """
ACT territoire de la capitale australienne|territorio de la capital australiana|hauptstadtterritorium
NSW neusudwales|nouvelle-galles du sud|nueva gales del sur
NT nordterritorium|territoire du nord|territorio del norte
SA sudaustralien|suedaustralien|australie-meridionale|australia meridional|australia del sur
TAS tasmanien|tasmanie
WA westaustralien|australie-occidentale|australia occidental""",
    "BE": """
BRU brussels|brussel|bruxelles|bruselas|brussels-capital|brussels capital region
VLG flanders|flemish region|vlaanderen|flandern|flandre|flandres|flandes
WAL wallonia|walloon region|wallonie|wallonien|valonia""",
    "CA": """
BC colombie-britannique|britisch-kolumbien|columbia britanica
NB nouveau-brunswick|neubraunschweig|nuevo brunswick
NL terre-neuve-et-labrador|neufundland und labrador|terranova y labrador|newfoundland
NS nouvelle-ecosse|neuschottland|nueva escocia
NT territoires du nord-ouest|nordwest-territorien|territorios del noroeste
PE ile-du-prince-edouard|prinz-edward-insel|isla del principe eduardo
QC quebec""",
    "CH": """
AG argovia|argovie
AI appenzell inner rhodes|appenzell rhodes-interieures|appenzell innerrhoden
AR appenzell outer rhodes|appenzell rhodes-exterieures|appenzell ausserrhoden
BE berne|berna
BL basel country|bale-campagne|basilea-campina|baselland|basel-land|baselbiet
BS bale-ville|basilea-ciudad|basel city|basel
FR fribourg|friburgo|friburg
GE geneva|geneve|genf|ginebra|ginevra
GL glaris|glarus
GR grisons|graubunden|graubuenden|grisones|grigioni|grischun
JU jura
LU lucerne|luzern|lucerna
NE neuchatel|neuenburg
NW nidwald|nidwalden
OW obwald|obwalden
SG saint gall|st. gallen|st gallen|saint-gall|san gallen|st.gallen
SH schaffhouse|schaffhausen|escafusa
SO soleure|solothurn|soleura
SZ schwytz|schwyz
TG thurgovia|thurgovie|thurgau|turgovia
TI tessin|ticino|tesino
VD vaud|waadt
VS valais|wallis
ZG zoug|zug
ZH zurich|zuerich""",
    "DE": """
BB brandebourg|brandeburgo|brandenburg
BE berlin
BW baden-wurttemberg|baden-wuerttemberg|bade-wurtemberg|baden wurttemberg|baden wuerttemberg
BY bavaria|bayern|baviera|baviere
HB breme|brema|freie hansestadt bremen
HE hesse|hessia|hessen
HH hambourg|hamburgo|freie und hansestadt hamburg
MV mecklenburg-western pomerania|mecklembourg-pomeranie-occidentale|mecklemburgo-pomerania occidental
NI lower saxony|niedersachsen|basse-saxe|baja sajonia
NW north rhine-westphalia|nordrhein westfalen|rhenanie-du-nord-westphalie|renania del norte-westfalia|nrw
RP rhineland-palatinate|rheinland pfalz|rhenanie-palatinat|renania-palatinado
SH schleswig holstein|slesvig-holsten
SL saar|sarre
SN saxony|sachsen|saxe|sajonia
ST saxony-anhalt|saxe-anhalt|sajonia-anhalt|sachsen anhalt
TH thuringia|thuringen|thueringen|thuringe|turingia""",
    "ES": """
AN andalusia|andalusien|andalousie
AR aragon|aragonien|aragonia
AS asturia|asturien|asturies|principado de asturias
CB cantabrie|kantabrien
CE ceuta
CL castile and leon|kastilien und leon|kastilien-leon|castille-et-leon|castilla-leon
CM castile-la mancha|castilla la mancha|kastilien-la mancha|castille-la manche|kastilien la mancha
CN canary islands|kanarische inseln|kanaren|iles canaries|islas canarias
CT catalonia|katalonien|catalogne|cataluna|catalunya
EX estremadure|estremadura
GA galicien|galice|galiza
IB balearic islands|balearics|balearen|iles baleares|baleares|illes balears
MC murcie|region de murcia|region of murcia
MD community of madrid|comunidad de madrid
ML melilla
NC navarre|nafarroa|comunidad foral de navarra
PV basque country|baskenland|pays basque|euskadi|vasco
RI rioja
VC valencia|valencian community|comunidad valenciana|comunitat valenciana|communaute valencienne|valence""",
    "FR": """
20R corsica|corse|korsika|corcega
6AE alsace|elsass|alsacia
ARA auvergne-rhone-alpes|auvernia-rodano-alpes
BFC bourgogne-franche-comte|burgundy|bourgogne|burgund|borgona|franche-comte
BRE brittany|bretagne|bretana|breizh
CVL centre-val de loire|centre
GES grand est|grand-est
HDF hauts-de-france
IDF ile-de-france
NAQ nouvelle-aquitaine|nueva aquitania
NOR normandy|normandie|normandia
OCC occitanie|occitania|okzitanien
PAC provence-alpes-cote d'azur|provence|paca|provenza-alpes-costa azul
PDL pays de la loire|pays-de-la-loire|paises del loira""",
    "GB": """
ENG england|angleterre|inglaterra
NIR northern ireland|nordirland|irlande du nord|irlanda del norte
SCT scotland|schottland|ecosse|escocia
WLS wales|pays de galles|gales|cymru""",
    "IT": """
21 piemonte|piedmont|piemont|piamonte
23 valle d'aosta|aosta valley|aostatal|vallee d'aoste|valle de aosta
25 lombardia|lombardy|lombardei|lombardie
32 trentino-alto adige|trentino-sudtirol|trentino-south tyrol|trentin-haut-adige|trentino-alto adigio
34 veneto|venetien|venetie
36 friuli venezia giulia|friuli-venezia giulia|friaul-julisch venetien|frioul-venetie julienne
42 liguria|ligurien|ligurie
45 emilia-romagna|emilie-romagne|emilia romagna
52 toscana|tuscany|toskana|toscane
55 umbria|umbrien|ombrie
57 marche|marken|marches|las marcas
62 lazio|latium|lacio
65 abruzzo|abruzzen|abruzzes|abruzos
67 molise
72 campania|kampanien|campanie
75 puglia|apulia|apulien|pouilles
77 basilicata|basilikata|basilicate
78 calabria|kalabrien|calabre
82 sicilia|sicily|sizilien|sicile
88 sardegna|sardinia|sardinien|sardaigne|cerdena
BZ south tyrol|sudtirol|suedtirol|alto adige|haut-adige""",
    "PT": """
20 azores|acores|azoren|regiao autonoma dos acores
30 madeira|madere|regiao autonoma da madeira
11 lisbon|lissabon|lisbonne""",
    "US": """
CA kalifornien|californie
FL floride
HI hawai|havaii
PA pennsylvanie|pensilvania
NY new york state|nueva york""",
}
#: The code of a part by its name, plain, by country.
PART_BY_NAME: Mapping[str, Mapping[str, str]] = {
    country: {
        name: line.partition(" ")[0]
        for line in every.strip().splitlines()
        for name in line.partition(" ")[2].split("|")
    }
    for country, every in NAMES_OF_PARTS.items()
}
