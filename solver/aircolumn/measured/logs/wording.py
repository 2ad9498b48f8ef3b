"""What the words beside a quantity say: corrected or observed, by which standard, at the wheels."""

import re
from dataclasses import dataclass
from functools import lru_cache

from aircolumn.measured.logs.channels import (
    KEPT,
    LONGEST,
    channel_of,
    channel_of_symbol,
    channel_of_unit,
    fits,
    known_unit,
    plain_words,
)
from aircolumn.measured.logs.headings import AT_THE_WHEEL, CORRECTED, NOT_THE_ENGINES, OBSERVED, STEMS

#: Standards by the words that loggers use for them. Dynos of the trade call J1349 "SAE" and J607 "STP" or
#: "STD" (common practice, no source).
STANDARDS_IN_WORDS = {
    "j607": r"(sae )?j ?607|stp|std|standard (temperature|pressure).*",
    "j1349": r"(sae )?j ?1349|sae|(sae )?net",
    "din70020": r"din( 70020)?|70020",
    "iso1585": r"iso( 1585)?|1585|eec|ece( r ?85)?|ewg|eg|cee|(80 )?1269( (eec|ewg|cee))?|ce 1269",
}
#: Known by name, but not by a formula here.
OTHER_STANDARDS = r"jis( d ?1001)?|j ?816|j ?1995|ece r ?24|88 195( eec)?|gost|nato|isa"
#: What is left of the heading of a column of correction factors.
FACTORS = {
    *("", "factor", "faktor", "facteur", "fattore", "fator", "coefficient", "coeff", "wspolczynnik", "k"),
    *("facteur de", "fattore di", "factor de", "fator de", "fact"),
}


@dataclass(frozen=True)
class Wording:
    """base: the heading without these words; corrected, observed: what it says of torque or power; standard:
    a key of STANDARDS_IN_WORDS, "?" for one that has no formula here, "" for none; wheel: at the wheels."""

    base: str
    corrected: bool = False
    observed: bool = False
    standard: str = ""
    wheel: bool = False


@lru_cache(maxsize=KEPT)
def wording(heading: str) -> Wording:
    """What a heading's name says, and what is left of it."""
    # CTorque, CPower: the C stands for corrected.
    text = re.sub(r"\bC(?=(Torque|Power|Tq|Trq|Pwr|HP)\b)", "corr ", heading[:LONGEST])
    words = plain_words(text)
    words, observed = _without(words, OBSERVED)
    words, other = _without(words, OTHER_STANDARDS)
    standard = "?" if other else ""
    for name, pattern in STANDARDS_IN_WORDS.items():
        words, found = _without(words, pattern)
        standard = standard or (name if found else "")
    words, corrected = _without(words, CORRECTED)
    words, wheel = _without(words, AT_THE_WHEEL)
    compound = re.sub(r"^rad(?=leistung|moment|drehmoment)", "", words)
    whp = re.fullmatch(r"(rw|w)(hp|tq|trq|torque|power)", compound)
    compound = whp[2] if whp else compound
    wheel = wheel or compound != words
    return Wording(compound, corrected or (bool(standard) and not observed), observed, standard, wheel)


def _without(words: str, pattern: str) -> tuple[str, bool]:
    """(words without those of a pattern, whether there were any)."""
    left, count = re.subn(rf"(?<![a-z0-9])(?:{pattern})(?![a-z0-9])", " ", words)
    return " ".join(left.split()), count > 0


def channel_in_words(name: str, unit: str | None) -> tuple[str | None, str | None, Wording]:
    """(channel, unit, what its words say) of a heading's name: torque, power, or a factor of correction."""
    said = wording(name)
    quantity = channel_of(said.base) or channel_of_symbol(said.base, unit)
    if quantity in ("torque", "power"):
        return quantity, unit, said
    unit = unit or known_unit(said.base)
    if not said.base or known_unit(said.base):  # the unit alone, and what is said of it
        of_unit = channel_of_unit(unit)
        if of_unit:
            return of_unit, unit, said
    if unit in (None, "", "%") and (said.corrected or said.standard) and said.base in FACTORS:
        return "correction", None, said
    return _by_stem(said.base, unit), unit, said


def _by_stem(words: str, unit: str | None) -> str | None:
    """The channel of a heading that is no usual one, by a stem in it and a unit that can be only this."""
    tokens = words.split()
    if not unit or any(re.fullmatch(NOT_THE_ENGINES, t) for t in tokens):
        return None
    return next(
        (
            channel
            for channel, stems in STEMS.items()
            if fits(channel, unit) and any(re.fullmatch(stems, t) for t in tokens)
        ),
        None,
    )
