"""Codes that an invoice may bear: currencies, countries, units and tax categories, as EN 16931 takes them over."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum


class Category(StrEnum):
    """Tax category of a line (UNTDID 5305, the part that EN 16931 uses)."""

    STANDARD = "S"
    ZERO = "Z"
    EXEMPT = "E"
    REVERSE = "AE"
    """The buyer owes the tax."""
    WITHIN_EU = "K"
    """Supply to another country of the European Union."""
    EXPORT = "G"
    OUTSIDE = "O"
    """Not subject to the tax at all."""


class Kind(StrEnum):
    """Kind of a document (UNTDID 1001)."""

    INVOICE = "380"
    CREDIT_NOTE = "381"


_WHOLE = "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX VND VUV XAF XOF XPF"
WHOLE_CURRENCIES = frozenset(_WHOLE.split())
"""Currencies without a smaller unit (ISO 4217, from memory): what is to be paid is rounded to whole ones."""
_COUNTRIES = """
    AD AE AF AG AI AL AM AO AQ AR AS AT AU AW AX AZ BA BB BD BE BF BG BH BI BJ BL BM BN BO BQ BR BS BT BV BW BY BZ CA CC CD
    CF CG CH CI CK CL CM CN CO CR CU CV CW CX CY CZ DE DJ DK DM DO DZ EC EE EG EH ER ES ET FI FJ FK FM FO FR GA GB GD GE GF
    GG GH GI GL GM GN GP GQ GR GS GT GU GW GY HK HM HN HR HT HU ID IE IL IM IN IO IQ IR IS IT JE JM JO JP KE KG KH KI KM KN
    KP KR KW KY KZ LA LB LC LI LK LR LS LT LU LV LY MA MC MD ME MF MG MH MK ML MM MN MO MP MQ MR MS MT MU MV MW MX MY MZ NA
    NC NE NF NG NI NL NO NP NR NU NZ OM PA PE PF PG PH PK PL PM PN PR PS PT PW PY QA RE RO RS RU RW SA SB SC SD SE SG SH SI
    SJ SK SL SM SN SO SR SS ST SV SX SY SZ TC TD TF TG TH TJ TK TL TM TN TO TR TT TV TW TZ UA UG UM US UY UZ VA VC VE VG VI
    VN VU WF WS YE YT ZA ZM ZW
"""
COUNTRIES = frozenset(_COUNTRIES.split())
"""ISO 3166-1 alpha-2."""
VAT_PREFIXES = COUNTRIES | {"EL", "XI"}
"""What a VAT number begins with (BR-CO-9): its country; Greece may use EL, Northern Ireland XI."""
UNITS: Mapping[str, str] = {
    "C62": "one",
    "HUR": "hour",
    "MIN": "minute",
    "DAY": "day",
    "H87": "piece",
    "XBG": "bag",
    "XPK": "pack",
    "SET": "set",
    "PR": "pair",
    "LTR": "litre",
    "MLT": "millilitre",
    "KGM": "kilogram",
    "GRM": "gram",
    "MTR": "metre",
    "KMT": "kilometre",
    "MTK": "square_metre",
}
"""Units of a line (UN/ECE Recommendations 20 and 21) and the name of each one's word in the wording."""
UNIT_WORDS: Mapping[str, str] = {
    "h": "HUR",
    "hour": "HUR",
    "hours": "HUR",
    "min": "MIN",
    "day": "DAY",
    "piece": "H87",
    "pieces": "H87",
    "pot": "H87",
    "cup": "H87",
    "portion": "H87",
    "tube": "H87",
    "bag": "XBG",
    "pack": "XPK",
    "set": "SET",
    "pair": "PR",
    "l": "LTR",
    "litre": "LTR",
    "ml": "MLT",
    "kg": "KGM",
    "g": "GRM",
    "m": "MTR",
    "km": "KMT",
    "m2": "MTK",
}


def unit_code(words: str) -> str:
    """The code of a unit as people write it, such as "bag of 9 L"; pieces for what is not known."""
    first = words.strip().lower().split(" ")[0]
    return UNIT_WORDS.get(first, "H87")
