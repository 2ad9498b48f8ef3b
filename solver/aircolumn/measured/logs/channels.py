"""What a data logger's columns can hold: usual headings, units and limits."""

import re
import unicodedata
from dataclasses import dataclass
from functools import lru_cache

from aircolumn.engine.description.units import to_si
from aircolumn.measured.logs.headings import OTHER_LANGUAGES

LONGEST, LONGEST_UNIT = 120, 30  # characters of a heading, and of a unit, that are looked at
KEPT = 4096  # headings that were looked at


@dataclass(frozen=True)
class Channel:
    """One measured quantity.

    kind: of units.KINDS, None for a plain number; words: regular expression of usual headings;
    low, high: what a sound reading lies between (SI; rev/min, deg); unit: taken for granted where
    the file names none (None: it must be named).
    """

    kind: str | None
    words: str
    low: float
    high: float
    unit: str | None = None


def words(english: str, channel: str) -> str:
    """Usual headings of a channel: English ones, and those of other languages (headings.py)."""
    return f"{english}|{OTHER_LANGUAGES[channel]}"


#: Names as in description.measured.ChannelName.
CHANNELS = {
    "pull": Channel(None, words(r"(pull|run|sweep)( (no|nr|number|count))?", "pull"), 0.0, 1e6),
    "time": Channel("time", words(r"(elapsed |log )?time( elapsed)?|elapsed", "time"), -1e6, 1e11, "s"),
    "rpm": Channel(
        "speed of rotation",
        words(
            r"(eng(ine)? |crank(shaft)? )?(rpm|speed|spd|revs|rev)( eng(ine)?)?"
            r"|n( eng(ine)?| mot)|krpm|rpm (x ?1000|1000|k)|1000 rpm",
            "rpm",
        ),
        100.0,
        30e3,
        "rpm",
    ),
    "torque": Channel(
        "torque",
        words(r"(eng(ine)? |brake |flywheel |crank |dyno |shaft )*(torque|tq|trq)|md|m [de]", "torque"),
        -500.0,
        10e3,
    ),
    "power": Channel(
        "power",
        words(r"(eng(ine)? |brake |flywheel |crank |dyno |shaft )*(power|pwr|horsepower)|pe|p e", "power"),
        -1e5,
        5e6,
    ),
    "lambda": Channel(None, r"(lambda|lam)( \d| avg| mean| sonde)?", 0.5, 2.0),
    "air_fuel_ratio": Channel(
        None, words(r"(afr|a f|air fuel)( ratio)?( \d| avg| mean)?", "air_fuel_ratio"), 3.0, 60.0
    ),
    "fuel_flow": Channel("mass flow", words(r"fuel( mass)?( flow| rate)*", "fuel_flow"), 0.0, 1.0),
    "pulse_width": Channel(
        "time",
        words(
            r"(fuel )?(inj(ector|ection)?s?|fuel) (pulse ?width|pw|(opening |on )?time|duration)( \d| avg)?"
            r"|(inj )?pulse ?width|ipw|t inj|ti inj",
            "pulse_width",
        ),
        0.0,
        0.1,
        "ms",
    ),
    "air_flow": Channel(
        "air flow",
        words(
            r"(inlet |intake )?air( mass| volume)?( flow| rate)+|maf|air|m dot (a|at|air)|air mass",
            "air_flow",
        ),
        0.0,
        10.0,
    ),
    "spark": Channel(
        "angle",
        words(r"(spark|ignition|ign)( adv(ance)?| angle| timing)*|timing", "spark"),
        -60.0,
        80.0,
        "deg",
    ),
    "coolant": Channel(
        "temperature", words(r"(coolant|water|h2o|ect|clt)( t(emp(erature)?)?)?", "coolant"), 230.0, 450.0
    ),
    "oil": Channel("temperature", words(r"oil( t(emp(erature)?)?)?|t oil", "oil"), 230.0, 500.0),
    "inlet_air": Channel(
        "temperature",
        words(
            r"((inlet|intake|inlet air|intake air|air|ambient)( air)?"
            r" temp(erature)?)|iat|((inlet|intake) )?air|t (air|intake|inlet|amb(ient)?)",
            "inlet_air",
        ),
        220.0,
        400.0,
    ),
    "barometer": Channel(
        "pressure",
        words(
            r"baro(meter|metric)?( press(ure)?)?|(ambient|atm\w*|air) press(ure)?|p (amb(ient)?|atm|baro|0)",
            "barometer",
        ),
        50e3,
        120e3,
    ),
    "humidity": Channel("share", words(r"(rel(ative)? )?(humidity|hum)|rh", "humidity"), 0.0, 1.0, "%"),
    "humidity_temperature": Channel(
        "temperature",
        r"((rel(ative)? )?(humidity|hum)|rh|room)( air)?"
        r" temp(erature)?",
        220.0,
        350.0,
    ),
    "correction": Channel(None, words(r"correction", "correction"), 0.5, 200.0),
    "manifold_pressure": Channel(
        "pressure",
        words(
            r"map|(intake )?manifold( abs(olute)?)? press(ure)?|p (im|man|int|saug)|plenum press(ure)?",
            "manifold_pressure",
        ),
        5e3,
        500e3,
    ),
    "manifold_temperature": Channel(
        "temperature",
        words(
            r"(intake )?manifold( air)? temp(erature)?|t im|mat|plenum temp(erature)?", "manifold_temperature"
        ),
        220.0,
        450.0,
    ),
    "throttle": Channel(
        "share",
        words(
            r"throttle( pos(ition)?| opening| angle)?|tps|wot|(accelerator )?pedal( pos(ition)?)?", "throttle"
        ),
        -0.05,
        1.05,
        "%",
    ),
}

#: Symbols of quantities (ISO 80000-3 and -4), taken for the first of these channels with which the unit
#: agrees.
SYMBOLS = {
    "n": ("rpm",),
    "omega": ("rpm",),
    "m": ("torque",),
    "md": ("torque",),
    "m_e": ("torque",),
    "m e": ("torque",),
    "t": ("time", "torque"),
    "p": ("power",),
    "pe": ("power",),
    "c": ("torque",),
    "mc": ("torque",),
    "pw": ("pulse_width", "power"),
    "ti": ("pulse_width",),
    "t_i": ("pulse_width",),
}

#: Units as loggers write them, in the unit registry's words.
_SPELLINGS = {
    r"(lbs?f?|pounds?)[ .*/-]?(ft|foot|feet)": "lbf*ft",
    r"(ft|foot|feet)[ .*/-]?(lbs?f?|pounds?)": "lbf*ft",
    r"(lbs?f?|pounds?)[ .*/-]?(in|inch)|(in|inch)[ .*/-]?(lbs?f?|pounds?)": "lbf*in",
    r"n[ .*-]?m|newton[ -]?met(er|re)s?": "N*m",
    r"kn[ .*-]?m": "kN*m",
    r"(b|w|rw|bhp|mech)?hp|hp *\(?(i|mech)\)?|horse ?power": "hp",
    r"ps|cv|ch|pk|km|mhp|hp *\(?m(etric)?\)?": "PS",
    r"(deg|degree|degrees|grad)[ .]?c|c|celsius": "degC",
    r"(deg|degree|degrees)[ .]?f|f|fahrenheit": "degF",
    r"deg(rees?)?( ?(btdc|ca|crank))?|btdc": "deg",
    r"(in|\")[ .]?hg": "inHg",
    r"mm[ .]?hg": "mmHg",
    r"(kg|lbs?|g)/(h|hr|hour|s|sec|min)": None,  # built below
    (
        r"r/?min|rev/min|rev/m|1/perc|1/dk|1/min|/min|min\^?-1|r\.?p\.?m\.?|u/?min\.?|upm|trs?/?(min|mn)|t/min|giri/?min"
        r"|(ot|ob|obr|omw|toeren|varv|d|dev|ford|kierr)[./ ]*/?(min|perc|dk)|o/min"
    ): "rpm",
    r"da ?n[ .*-]?m": "daN*m",
    r"m[ .*-]?k[gp]f?|k(g|p|gf)[ .*-]?m": "kgf*m",
    r"(s|sec|secs|seconds?)": "s",
    r"%|pct|percent|% ?rh": "%",
    r"pa|pascal": "Pa",
    r"kpa(\(?a\)?| ?abs)?": "kPa",
    r"mbar(\(?a\)?| ?abs)?|mb|millibar": "mbar",
    r"hpa": "hPa",
    r"bar(\(?a\)?| ?abs)?": "bar",
    r"psi(a| ?abs)?": "psi",
    r"kw|kilowatts?": "kW",
    r"w|watts?": "W",
    r"[as]?cfm": "cfm",
    r"(l|lit(er|re)s?|ltr)/(min|mn)|lpm": "L/min",
    r"(l|lit(er|re)s?|ltr)/s(ec)?": "L/s",
    r"(m3|cbm)/h(r|our)?": "m3/h",
    r"rad/s(ec)?|rad\*?s\^?-1": "rad/s",
    r"rps|rev/s(ec)?|1/s|s\^?-1|hz": "rev/s",
    (
        r"(x ?1000 ?/?(rpm|min)|(rpm|1/min|r/min|tr/min|u/min) ?[x*/] ?1000"
        r"|1000 ?[/*]? ?(rpm|1/min|/?min|r/min)|krpm)"
    ): "krpm",
    r"(rpm|r/min|1/min|rev/min)/s(ec)?|rpm ?s\^?-1": "rpm/s",
    r"(deg ?)?k(elvin)?": "K",
    r"ms": "ms",
    r"lambda|afr|-|1": "",
}
_TIMES = {"h": "h", "hr": "h", "hour": "h", "s": "s", "sec": "s", "min": "min"}


#: Letters that are no other letter with an accent.
_LETTERS = str.maketrans(
    {"ß": "ss", "ł": "l", "Ł": "L", "ø": "o", "Ø": "O", "đ": "d", "æ": "ae", "\u0131": "i"}
)
#: Words beside a quantity that say how it was taken.
_BY_THE_WAY = re.compile(r"\s*\b(avg|average|mean|filt(ered)?|smooth(ed)?|channel|sensor|signal)\b\s*")
_BRACKETS = re.compile(r"[\[({<]\s*([^\])}>]*?)\s*[\])}>]")


@lru_cache(maxsize=KEPT)
def plain_words(text: str) -> str:
    """A heading in small letters and single blanks, signs and underscores gone."""
    text = text.strip().translate(_LETTERS).replace("λ", "lambda").replace("Λ", "lambda")
    text = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    text = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", text).lower()
    return " ".join(re.sub(r"[^a-z0-9%]+", " ", text).split())


@lru_cache(maxsize=KEPT)
def known_unit(text: str) -> str | None:
    """The unit ``text`` stands for ("" for none at all), or None if it is no unit known here."""
    text = text.strip().lower().replace("°", "deg").replace("º", "deg").replace("⁻¹", "-1")
    text = text.replace("³", "3").replace("²", "2").rstrip(".") if len(text) > 2 else text
    text = " ".join(text.replace("·", "*").replace("⋅", "*").replace("•", "*").split())
    for spelling, unit in _SPELLINGS.items():
        found = re.fullmatch(spelling, text)
        if found:
            if unit is not None:
                return unit
            return f"{found[1].rstrip('s') if found[1] != 'g' else 'g'}/{_TIMES[found[2]]}"
    if len(text) > LONGEST_UNIT or not re.fullmatch(r"[a-z][a-z0-9*/^.]*", text):
        return None
    for kind in ("torque", "power", "pressure", "mass flow", "volume flow", "time"):
        try:
            to_si(f"1 {text}", kind)
        except ValueError:
            continue
        return text
    return None


@lru_cache(maxsize=KEPT)
def split_heading(heading: str) -> tuple[str, str | None]:
    """(name, unit) of "Torque [lb-ft]", "Torque (Nm)", "Oil temp, degC", "tq_Nm" or "lb-ft"."""
    heading = heading[:LONGEST].strip().strip('"').strip()
    if known_unit(heading) and not channel_of(heading):
        return "", known_unit(heading)
    for bracket in _BRACKETS.finditer(heading):
        unit, _, more = bracket[1].partition(",")
        if known_unit(unit) is not None:
            rest = f"{heading[: bracket.start()]} {more} {heading[bracket.end() :]}"
            return re.sub(r"(/|\bin)\s*$", "", " ".join(rest.split())).strip(), known_unit(unit)
    name, _, unit = heading.partition("/")  # as ISO 80000-1 heads a column: quantity over unit
    if name.strip().lower() in SYMBOLS or channel_of(name) or (name.endswith(" ") and unit.startswith(" ")):
        known = known_unit(unit)
        if known:
            return name.strip(), known
    if channel_of(heading):  # eng_rpm is no quantity "eng" in rpm
        return heading, None
    for separator in (" in ", ",", " ", "_", ":", "-"):
        name, _, unit = heading.rpartition(separator)
        if name and known_unit(unit):
            return name.strip(), known_unit(unit)
    return heading, None


@lru_cache(maxsize=KEPT)
def channel_of(name: str, unit: str | None = None) -> str | None:
    """The channel a heading's name stands for, or None; of several, one that can have the unit."""
    words = plain_words(name[:LONGEST])
    named = [channel for channel, about in CHANNELS.items() if re.fullmatch(about.words, words)]
    if not named and _BY_THE_WAY.search(words):
        return channel_of(_BY_THE_WAY.sub("", words), unit)
    fitting = [channel for channel in named if unit and fits(channel, unit)]
    return next(iter(fitting or named), None)


def channel_of_symbol(name: str, unit: str | None) -> str | None:
    """The channel a symbol stands for, such as n [1/min], if the unit goes with it."""
    channels = SYMBOLS.get(name.strip().lower(), ())
    return next((c for c in channels if unit and fits(c, unit)), None)


def channel_of_unit(unit: str | None) -> str | None:
    """Torque or power for a column that is headed by its unit alone."""
    for channel in ("torque", "power"):
        if unit and fits(channel, unit):
            return channel
    return None


def fits(channel: str, unit: str) -> bool:
    """Whether readings of the channel can be in this unit."""
    try:
        scale_of(channel, unit)
    except ValueError:
        return False
    return True


def scale_of(channel: str, unit: str) -> tuple[float, float]:
    """(factor, shift) to SI: value = factor x reading + shift. ValueError for a wrong unit.

    Air flow given as a volume comes out in m3/s (see is_volume_flow).
    """
    kind = CHANNELS[channel].kind
    if kind is None:
        if unit:
            raise ValueError(f"{channel} has no unit, but '{unit}' was found")
        return 1.0, 0.0
    if unit == "krpm":
        return scale_of(channel, "rpm")[0] * 1000.0, 0.0
    if kind == "air flow":
        kind = "volume flow" if is_volume_flow(unit) else "mass flow"
    zero, one = to_si(f"0 {unit}", kind), to_si(f"1 {unit}", kind)
    return one - zero, zero


def is_volume_flow(unit: str) -> bool:
    """Whether an air flow's unit is that of a volume per time."""
    try:
        to_si(f"1 {unit}", "volume flow")
    except ValueError:
        return False
    return True
