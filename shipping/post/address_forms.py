"""The order in which a destination writes town, region and postcode: a country in, its lines' forms out; data
only.

A form is a line of fields with what stands before each: ``town|, region| postcode``; what is empty leaves out
its separator too. From the operators' published examples as recalled (UPU S42, from memory).
"""

from __future__ import annotations

#: Postcode before the town: most of Europe, and where nothing else is listed.
GENERIC = ("postcode| town", "region")
_TOWN_FIRST = ("town| postcode", "region")
_STATE_LINE = ("town| region| postcode",)
_WITH_PROVINCE = ("postcode| town| region",)
_POSTCODE_LAST = ("town", "region", "postcode")

FORMS: dict[str, tuple[str, ...]] = {
    "AU": _STATE_LINE,
    "BR": ("town|-region", "postcode"),
    "CA": _STATE_LINE,
    "CN": ("town|, region| postcode",),
    "GB": _POSTCODE_LAST,
    "GG": _POSTCODE_LAST,
    "HK": ("town", "region"),
    "HU": GENERIC,
    "ID": _TOWN_FIRST,
    "IE": _POSTCODE_LAST,
    "IL": GENERIC,
    "IM": _POSTCODE_LAST,
    "IN": _TOWN_FIRST,
    "IT": _WITH_PROVINCE,
    "JE": _POSTCODE_LAST,
    "JP": ("town|, region| postcode",),
    "KR": ("town|, region| postcode",),
    "LV": ("town|, postcode", "region"),
    "MT": _TOWN_FIRST,
    "MX": ("postcode| town|, region",),
    "MY": GENERIC,
    "NZ": _TOWN_FIRST,
    "PH": GENERIC,
    "PR": _STATE_LINE,
    "RU": _POSTCODE_LAST,
    "SA": _TOWN_FIRST,
    "SG": _TOWN_FIRST,
    "TH": ("town", "region| postcode"),
    "TR": ("postcode| town|/region",),
    "TW": ("town|, region| postcode",),
    "UA": _POSTCODE_LAST,
    "US": _STATE_LINE,
    "VN": ("town|, region| postcode",),
    "ZA": _POSTCODE_LAST,
}

#: Where a region's code belongs on the label; elsewhere only a region written out does.
PRINTS_REGION_CODE = frozenset({"AU", "BR", "CA", "IT", "US"})
