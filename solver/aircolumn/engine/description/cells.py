"""A cell of a log as a number or as a time, however the logger's country writes it."""

import re
from collections import Counter
from collections.abc import Iterable
from datetime import datetime

LONGEST_NUMBER = 40  # characters
#: Blanks and apostrophes that part thousands.
_GAPS = re.compile("[\\s\u00a0\u2007\u2009\u202f]|(?<=\\d)['\u2019](?=\\d{3})")
_NUMBER = re.compile(r"[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?")
_COMMA_THOUSANDS = re.compile(r"[-+]?\d{1,3}(,\d{3})+(\.\d+)?")
_POINT_THOUSANDS = re.compile(r"[-+]?\d{1,3}(\.\d{3})+(,\d+)?")
_COMMA_NUMBER, _POINT_NUMBER = re.compile(r"[-+]?\d+,\d+"), re.compile(r"[-+]?\d*\.\d+")
_CLOCK = re.compile(r"(?:(\d{1,3}):)?(\d{1,3}):(\d{2}(?:[.,]\d+)?)\s*([ap]m)?", re.IGNORECASE)
_DATES = ("%Y-%m-%d", "%Y/%m/%d", "%d.%m.%Y", "%d/%m/%Y", "%m/%d/%Y", "%d-%m-%Y")
DAY = 86_400.0  # s


def number(cell: str, decimal_comma: bool) -> float | None:
    """The number in a cell; None if it holds none."""
    if len(cell) > LONGEST_NUMBER:
        return None
    if cell.isdecimal() and cell.isascii():  # most cells of most logs are one of these two
        return float(cell)
    if not decimal_comma and _NUMBER.fullmatch(cell):
        return float(cell)
    cell = _GAPS.sub("", cell).replace("\u2212", "-")
    if decimal_comma and ("," in cell or _POINT_THOUSANDS.fullmatch(cell)):
        cell = cell.replace(".", "").replace(",", ".")
    elif not decimal_comma and _COMMA_THOUSANDS.fullmatch(cell):
        cell = cell.replace(",", "")
    return float(cell) if _NUMBER.fullmatch(cell) else None


def seconds(cell: str) -> float | None:
    """Seconds of a time of day or of a stop watch (1:02.5, 14:05:01.2, 2:05:01 pm), with a date before it
    (ISO 8601 or as countries write it) seconds since 1970; None if it is none."""
    text = cell.strip().removesuffix("Z")
    if len(text) > LONGEST_NUMBER:
        return None
    date, gap, clock = text.partition("T" if "T" in text else " ")
    if not gap or ":" in date:
        return _of_clock(text)
    of_day = _of_clock(clock)
    day = next((d for form in _DATES if (d := _day(date, form)) is not None), None)
    return None if day is None or of_day is None else day + of_day


def _of_clock(text: str) -> float | None:
    found = _CLOCK.fullmatch(text.strip())
    if found is None:
        return None
    hours, minutes, rest, half = found.groups()
    count = int(hours or 0)
    if half:
        count = count % 12 + (12 if half.lower() == "pm" else 0)
    return 3600.0 * count + 60.0 * int(minutes) + float(rest.replace(",", "."))


def _day(text: str, form: str) -> float | None:
    try:
        return (datetime.strptime(text, form) - datetime(1970, 1, 1)).total_seconds()
    except ValueError:
        return None


def has_decimal_comma(cells: Iterable[str], separator: str) -> bool | None:
    """Whether numbers have decimal commas; None if some have and some have decimal points. "2,500" and
    "2.500" may be thousands as well: they count only where nothing else does."""
    sure: Counter[str] = Counter()
    unsure: Counter[str] = Counter()
    for cell in cells:
        if ("," not in cell and "." not in cell) or len(cell) > LONGEST_NUMBER:
            continue
        text = _GAPS.sub("", cell)
        if _COMMA_THOUSANDS.fullmatch(text):
            sure["point"] += "." in text
            unsure["thousands" if separator == "," else "comma"] += "." not in text
        elif _POINT_THOUSANDS.fullmatch(text):
            sure["comma"] += "," in text
            unsure["point"] += "," not in text
        elif _COMMA_NUMBER.fullmatch(text):
            sure["comma"] += 1
        elif _POINT_NUMBER.fullmatch(text):
            sure["point"] += 1
    # A few of the other kind are bad cells, reported as such; half and half is a broken file.
    if min(sure["comma"], sure["point"]) > 0.1 * sum(sure.values()):
        return None
    if any(sure.values()):
        return sure["comma"] > sure["point"]
    return unsure["comma"] > unsure["point"]
