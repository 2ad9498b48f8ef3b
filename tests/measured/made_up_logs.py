"""Invented logs of one engine in the habits of many labs and loggers, with their faults, and what a reader
should find in them. ``python -m tests.measured.made_up_logs 2000`` reads that many and counts by cause."""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

import aircolumn
from aircolumn.errors import InputError, RequestError
from aircolumn.measured.atmosphere import Atmosphere, factor
from aircolumn.measured.impossible import impossible
from aircolumn.measured.logs.reading import read_pulls
from aircolumn.measured.measured_curve import mean_of_pulls, measured_curve

ROOT = Path(__file__).resolve().parent.parent.parent
NEAR = 0.02  # relative: torque read off so near is right
RIGHT, REFUSED, TOLD, SILENT = "right", "refused", "wrong, told", "wrong, silent"

#: Headings by language: speed, torque, power, barometer, temperature, humidity, time, pull, corrected,
#: observed,
#: factor
WORDS = {
    "en": "RPM|Engine Speed|EngSpd, Torque|Tq|Engine Torque, Power|Engine Power|Pwr, Barometer|Baro|Ambient"
    " Pressure, Air Temp|IAT|Intake Air Temperature, Humidity|RH|Rel. Humidity, Time|Elapsed Time, Run|Pull"
    "|Run #, corrected|corr, observed|uncorrected|obs., CF|Correction Factor|Corr Factor",
    "de": "Drehzahl|Motordrehzahl|n, Drehmoment|Moment|Motormoment, Leistung|Motorleistung,"
    " Luftdruck|Barometer,"
    " Ansauglufttemperatur|Lufttemperatur, Luftfeuchte|rel. Feuchte, Zeit|Messzeit, Lauf|Messung,"
    " korr.|korrigiert,"
    " unkorrigiert|gemessen, Korrekturfaktor",
    "fr": "Régime|Régime moteur|Vitesse, Couple|Couple moteur, Puissance, Pression atmosphérique,"
    " Température air|Temp. d'air, Humidité|Humidité relative, Temps, Essai, corrigé|corr., non"
    " corrigé|mesuré,"
    " Facteur de correction|Facteur",
    "it": "Giri motore|Regime|Giri, Coppia|Coppia motore, Potenza, Pressione atmosferica, Temperatura aria,"
    " Umidità, Tempo, Prova, corretta|corr., non corretta|misurata, Fattore di correzione",
    "es": "Régimen|Velocidad motor, Par|Par motor, Potencia, Presión atmosférica, Temperatura aire|Temp."
    " de aire,"
    " Humedad, Tiempo, Ensayo, corregido|corr., sin corregir|medido, Factor de corrección",
    "pt": "Rotação|Rotação do motor, Binário|Torque do motor, Potência, Pressão atmosférica, Temperatura"
    " do ar,"
    " Umidade|Umidade relativa, Tempo, Ensaio, corrigido|corr., não corrigido|medido, Fator de correção",
    "nl": "Toerental|Motortoerental, Koppel|Motorkoppel, Vermogen, Luchtdruk, Luchttemperatuur, Vochtigheid,"
    " Tijd, Meting, gecorrigeerd, ongecorrigeerd|gemeten, Correctiefactor",
    "sv": "Varvtal|Motorvarvtal, Vridmoment|Moment, Effekt, Lufttryck, Lufttemperatur, Luftfuktighet, Tid,"
    " Körning, korrigerat|korr., okorrigerat|uppmätt, Korrektionsfaktor",
    "pl": "Obroty|Obroty silnika|Prędkość obrotowa, Moment|Moment obrotowy, Moc, Ciśnienie, Temperatura"
    " powietrza,"
    " Wilgotność, Czas, Pomiar, skorygowany, zmierzony|nieskorygowany, Współczynnik korekcji",
    "cs": "Otáčky|Otáčky motoru, Točivý moment|Moment, Výkon, Barometrický tlak|Tlak vzduchu, Teplota"
    " vzduchu,"
    " Vlhkost, Čas, Měření, korigovaný|corr., obs., Correction",
    "da": "Omdrejninger|Omdrejningstal, Drejningsmoment, Effekt, Lufttryk, Lufttemperatur, Luftfugtighed,"
    " Tid,"
    " Måling, korr., obs., Korrektionsfaktor",
    "fi": "Kierrosluku|Kierrosnopeus, Vääntömomentti|Vääntö, Teho, Ilmanpaine, Ilman lämpötila, Ilmankosteus,"
    " Aika, Mittaus, corr., obs., CF",
}
TORQUE_UNITS = {
    "Nm": 1.0,
    "N m": 1.0,
    "N·m": 1.0,
    "lb-ft": 1.3558179483,
    "lbf ft": 1.3558179483,
    "ft-lb": 1.3558179483,
    "kgm": 9.80665,
    "mkp": 9.80665,
    "daNm": 10.0,
}
POWER_UNITS = {"kW": 1e3, "hp": 745.699872, "PS": 735.49875, "CV": 735.49875, "W": 1.0}
SPEED_UNITS = ("rpm", "1/min", "min-1", "U/min", "tr/min", "r/min", "rev/min")
STANDARD_WORDS = {
    "j1349": ("SAE", "SAE J1349", "J1349"),
    "j607": ("STP", "STD", "SAE J607"),
    "din70020": ("DIN", "DIN 70020"),
    "iso1585": ("ISO 1585", "EEC", "ECE"),
}
OTHERS = (
    ("Oil Temp [degC]", lambda r: f"{r.uniform(90, 110):.1f}"),
    ("Water (C)", lambda r: f"{r.uniform(80, 95):.1f}"),
    ("Lambda", lambda r: f"{r.uniform(0.86, 0.92):.3f}"),
    ("AFR", lambda r: f"{r.uniform(12.4, 13.4):.2f}"),
    ("Ign [deg]", lambda r: f"{r.uniform(22, 30):.1f}"),
    ("dn/dt [rpm/s]", lambda r: f"{r.uniform(250, 350):.0f}"),
    ("rpm/s", lambda r: f"{r.uniform(250, 350):.0f}"),
    ("Battery V", lambda r: f"{r.uniform(13.0, 14.2):.2f}"),
    ("Fuel press kPa", lambda r: f"{r.uniform(290, 310):.0f}"),
    ("MAP [kPa]", lambda r: f"{r.uniform(94, 98):.1f}"),
    ("Note", lambda r: r.choice(["", "ok", "check plug"])),
    ("Gear", lambda r: "4"),
    ("Vehicle speed [km/h]", lambda r: f"{r.uniform(60, 180):.0f}"),
)


@dataclass
class Log:
    """An invented log: its bytes, torque that was there (N m, observed) by speed, causes of trouble in it,
    and whether a person could read it."""

    raw: bytes
    torque: object
    causes: list[str] = field(default_factory=list)
    readable: bool = True


def made_up(seed: int) -> Log:
    """The log of a seed."""
    return _Maker(np.random.default_rng([77, seed])).log()


class _Maker:
    """Draws habits and faults one after the other."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng, self.causes, self.readable = rng, [], True

    def any(self, *choices):
        return choices[int(self.rng.integers(len(choices)))]

    def chance(self, share: float, cause: str = "") -> bool:
        found = bool(self.rng.random() < share)
        if found and cause:
            self.causes.append(cause)
        return found

    def word(self, place: int) -> str:
        group = WORDS[self.language].split(", ")[place]
        return str(self.any(*group.strip().split("|")))

    # --- what was there

    def engine(self) -> None:
        r = self.rng
        level, top, wave = r.uniform(185, 225), r.uniform(3.2, 4.8), r.uniform(0.0, 0.06)
        phase = r.uniform(0, 6.3)

        def torque(n):
            x = np.asarray(n) / 1000.0
            return level * (1.0 - 0.025 * (x - top) ** 2 + wave * np.sin(2.2 * x + phase))

        self.torque = torque
        self.air = Atmosphere(r.uniform(94e3, 102.5e3), 273.15 + r.uniform(12, 34), r.uniform(0.15, 0.75))

    def sweep(self) -> np.ndarray:
        """Rows (time, rpm, torque, load) of one pull, load: whether it counts."""
        r = self.rng
        low, high = self.low, self.high
        if self.steps:
            rpm = np.arange(low, high + 1, self.any(200.0, 250.0, 500.0)) + r.normal(0, 3)
            rpm = rpm[::-1] if self.down else rpm
            time = np.arange(len(rpm)) * 20.0
        else:
            rpm = np.arange(low, high + 1, self.step)
            rpm = rpm[::-1] if self.down else rpm
            rpm = rpm + r.normal(0, self.jitter, rpm.size)
            time = np.arange(len(rpm)) * self.step / self.rate
        torque = self.torque(rpm) * (1.0 + r.normal(0, 0.002) + r.normal(0, self.noise, rpm.size))
        return np.array([time, rpm, torque])

    def with_off_load(self, rows: np.ndarray) -> np.ndarray:
        """Rows in which the load is not on, before and after a sweep."""
        r, (time, rpm, torque) = self.rng, rows
        dt = time[1] - time[0]
        before, after = np.empty((3, 0)), np.empty((3, 0))
        if self.idle:
            n = int(r.integers(8, 40))
            before = np.array([np.zeros(n), 900 + r.normal(0, 8, n), r.uniform(2, 12) + r.normal(0, 0.5, n)])
        if self.hold:
            n = int(r.integers(6, 25))
            ramp = np.linspace(r.uniform(0.05, 0.4), 0.97, n)
            more = np.array([np.zeros(n), rpm[0] + r.normal(0, 2, n), self.torque(rpm[0]) * ramp])
            before = np.hstack([before, more])
        if self.lug:
            n = int(r.integers(5, 15))
            speeds = np.linspace(rpm[0] + 700, rpm[0], n, endpoint=False)
            more = np.array([np.zeros(n), speeds, self.torque(speeds) * np.linspace(0.1, 0.6, n)])
            before = np.hstack([before, more])
        if self.coast:
            n = int(r.integers(6, 60))
            speeds = np.linspace(rpm[-1] - 20, self.any(rpm[-1] - 250, low_of(rpm) + 100), n)
            drag = self.any(-1.0, 1.0) * r.uniform(15, 45) * speeds / 4000.0
            after = np.array([np.zeros(n), speeds, drag])
        if self.cut:
            n = int(r.integers(3, 10))
            after = np.hstack(
                [
                    np.array(
                        [np.zeros(n), rpm[-1] + r.normal(0, 10, n), torque[-1] * np.linspace(0.6, 0.02, n)]
                    ),
                    after,
                ]
            )
        if self.back:
            down = rpm[::-1] - self.step / 2
            after = np.array(
                [np.zeros(len(down)), down, self.torque(down) * (1 + r.normal(0, 0.002, len(down)))]
            )
        if self.idle_after:
            n = int(r.integers(10, 40))
            more = [np.zeros(n), 880 + r.normal(0, 8, n), r.uniform(2, 9) + r.normal(0, 0.4, n)]
            after = np.hstack([after, np.array(more)])
        load = np.concatenate([np.zeros(before.shape[1]), np.ones(len(rpm)), np.zeros(after.shape[1])])
        self.loads.append(np.ones(len(load)) if self.back else load)
        found = np.hstack([before, rows, after])
        found[0] = np.arange(found.shape[1]) * dt
        return found

    # --- as it is logged

    def log(self) -> Log:
        r = self.rng
        self.engine()
        self.language = str(self.any("en", "en", "en", *(word for word in WORDS if word != "en")))
        self.steps = self.chance(0.2)
        self.down = self.chance(0.08, "down sweep")
        self.low, self.high = self.any(1500.0, 2000.0, 2500.0), self.any(5000.0, 6000.0, 6500.0)
        self.step, self.rate = self.any(10.0, 20.0, 25.0, 50.0, 75.0, 100.0), self.any(200.0, 300.0, 500.0)
        self.jitter, self.noise = self.any(0.0, 2.0, 8.0), self.any(0.001, 0.003, 0.005)
        dense = not self.steps and not self.down
        self.idle = dense and self.chance(0.1, "idle before")
        self.hold = dense and self.chance(0.12, "load comes on")
        self.lug = dense and not self.hold and not self.idle and self.chance(0.06, "lugged down")
        self.cut = dense and self.chance(0.08, "cut-off")
        self.coast = dense and self.chance(0.2, "run-down")
        self.idle_after = dense and self.chance(0.08, "idle after")
        self.back = (
            dense and not self.coast and not self.idle_after and self.chance(0.05, "up and down at full load")
        )
        self.throttle = self.chance(0.15)
        self.loads: list[np.ndarray] = []
        pulls = [self.with_off_load(self.sweep()) for _ in range(int(self.any(1, 1, 2, 3)))]
        if len(pulls) > 1 and self.chance(0.08, "one pull at part load"):
            pulls[int(r.integers(len(pulls)))][2] *= r.uniform(0.4, 0.75)
        pulls = [self.spoiled(p) for p in pulls]
        return Log(self.written(pulls), self.torque, self.causes, self.readable)

    def spoiled(self, rows: np.ndarray) -> np.ndarray:
        """Single readings that are wrong."""
        r, count = self.rng, rows.shape[1]
        if self.chance(0.15, "spike"):
            for k in r.choice(count, size=int(r.integers(1, 4 if count > 25 else 2)), replace=False):
                rows[2, k] *= self.any(0.0, 10.0, 3.0, -1.0, 0.4, 1.6)
        if count > 40 and self.chance(0.06, "dropout"):
            k, n = int(r.integers(5, count - 10)), int(r.integers(2, 5))
            rows[2, k : k + n] = self.any(0.0, -1.0, -999.0, 9999.0, 6553.5)
        if count > 40 and self.chance(0.04, "stuck"):
            k = int(r.integers(5, count - 6))
            rows[2, k : k + 4] = rows[2, k]
        if count > 30 and self.chance(0.04, "speed spike"):
            rows[1, int(r.integers(5, count - 5))] *= self.any(0.3, 2.0, 1.5)
        return rows

    def statement(self) -> None:
        """How torque is stated: words at the heading, a factor, a line above, or nothing."""
        kind = str(
            self.any(
                *["none"] * 8,
                "observed word",
                "standard word",
                "factor",
                "factor",
                "factor and word",
                "both",
                "line",
                "power corrected",
                "factor of one",
            )
        )
        self.kind = kind
        self.standard = str(self.any(*STANDARD_WORDS))
        self.factor = float(factor(self.standard, self.air))
        if abs(self.factor - 1.0) < 0.004 and kind != "none":
            self.kind = "none"
        if kind != "none":
            self.causes.append(f"stated: {kind}")

    def written(self, pulls: list[np.ndarray]) -> bytes:
        self.statement()
        r = self.rng
        self.separator = str(self.any(",", ",", ";", ";", "\t", "|"))
        self.comma = self.separator != "," and self.chance(
            0.35 if self.language != "en" else 0.05, "decimal comma"
        )
        self.thousands = self.any("", "", "", "", "", "'", "\u00a0", "\u202f", ".", ",")
        if (self.thousands == "." and not self.comma) or (
            self.thousands == "," and (self.comma or self.separator == ",")
        ):
            self.thousands = ""
        if self.thousands:
            self.causes.append("thousands")
        columns = self.columns(pulls)
        order = r.permutation(len(columns)) if self.chance(0.3) else np.arange(len(columns))
        columns = [columns[k] for k in order]
        heads = [self.headed(name, unit) for name, unit, _ in columns]
        if self.unit_row:
            heads = [name for name, _, _ in columns]
        lines = self.titles()
        heading = self.separator.join(self.quoted(h) for h in heads)
        lines.append(heading)
        if self.unit_row:
            lines.append(self.separator.join(unit for _, unit, _ in columns))
        breaks = self.any("pull", "blank", "headings", "none") if len(pulls) > 1 else "none"
        if self.chance(0.06, "units in the cells") and not self.unit_row:
            columns = [
                (n, u, [f"{c} {u}" for c in cells]) if u in ("rpm", "Nm", "kW", "kPa", "%") else (n, u, cells)
                for n, u, cells in columns
            ]
        start = 0
        for p in pulls:
            count = p.shape[1]
            if start and breaks == "headings":
                lines.append(heading)
            if start and breaks == "blank":
                lines.append("")
            rows = [self.separator.join(c[start + k] for _, _, c in columns) for k in range(count)]
            if self.rows_shuffled:
                rows = [rows[k] for k in r.permutation(count)]
            lines += rows
            start += count
        lines += self.footer(columns)
        text = "\n".join(lines) + "\n"
        return self.encoded(text)

    def columns(self, pulls):
        """(heading, unit, cells) of each column."""
        r = self.rng
        table = np.hstack(pulls)
        count, (time, rpm, torque) = table.shape[1], table
        self.unit_row = self.chance(0.25, "row of units")
        speed, factor_ = str(self.any(*SPEED_UNITS)), 1.0
        if self.chance(0.04, "rad/s"):
            speed, factor_ = "rad/s", np.pi / 30.0
        elif self.chance(0.04, "thousands of rpm"):
            speed, factor_ = str(self.any("1000 rpm", "rpm x1000", "krpm")), 1e-3
        unit = str(self.any(*TORQUE_UNITS))
        mislabelled = self.chance(0.02, "unit mislabelled")
        shown = np.ones(count)
        words = {"observed word": self.word(9), "standard word": self.corrected_word()}
        said = words.get(self.kind, "")
        if self.kind in ("standard word", "factor", "factor and word", "line"):
            shown = np.full(count, self.factor)
        if self.kind == "factor and word":
            said = self.word(8)
        if self.kind == "factor of one":
            shown, self.factor = np.ones(count), 1.0
        scale = shown / TORQUE_UNITS[unit]
        if mislabelled:
            unit = "Nm" if TORQUE_UNITS[unit] > 5 else "kgm"
            self.readable = False
        places = 2 if TORQUE_UNITS[unit] > 5.0 else 1
        found = [(self.word(0), speed, [self.number(v * factor_, 1 if factor_ == 1.0 else 4) for v in rpm])]
        name = self.beside(self.word(1), said)
        found.append((name, unit, [self.number(v, places) for v in torque * scale]))
        if self.chance(0.04, "dyno speed too"):
            found.append(
                (
                    str(self.any("Dyno RPM", "Roller speed", "Wheel RPM")),
                    "rpm",
                    [self.number(v / 3.73, 1) for v in rpm],
                )
            )
        if self.chance(0.04, "torque in two units") and self.kind in ("none", "factor") and not mislabelled:
            found.append(
                (
                    name,
                    "N m" if unit != "N m" else "lb-ft",
                    [self.number(v, 2) for v in torque * shown / (1.0 if unit != "N m" else 1.3558179483)],
                )
            )
        if self.throttle:
            opening = np.concatenate(self.loads) * r.uniform(94, 100) + r.uniform(0, 2)
            found.append(
                (
                    str(self.any("Throttle", "TPS", "Throttle Position")),
                    "%",
                    [self.number(min(v, 100.0), 1) for v in opening],
                )
            )
        if self.kind == "both":
            name = self.beside(self.word(1), self.corrected_word())
            found.append(
                (name, unit, [self.number(v, places) for v in torque * self.factor / TORQUE_UNITS[unit]])
            )
        if self.kind == "power corrected" or (self.kind != "both" and self.chance(0.35)):
            of = str(self.any(*POWER_UNITS))
            own = np.full(count, self.factor) if self.kind == "power corrected" else shown
            watts = torque * own * rpm * np.pi / 30.0
            label = self.beside(
                self.word(2), self.corrected_word() if self.kind == "power corrected" else said
            )
            found.append(
                (label, of, [self.number(v / POWER_UNITS[of], 2 if of != "W" else 0) for v in watts])
            )
        weather = self.kind not in ("none", "observed word") or self.chance(0.5)
        if weather:
            p_unit, p = self.any(("kPa", 1e-3), ("mbar", 1e-2), ("hPa", 1e-2), ("inHg", 1.0 / 3386.389))
            t_unit, t = self.any(
                ("degC", self.air.temperature - 273.15),
                ("°C", self.air.temperature - 273.15),
                ("K", self.air.temperature),
                ("degF", 1.8 * self.air.temperature - 459.67),
            )
            found.append((self.word(3), p_unit, [self.number(self.air.pressure * p, 2)] * count))
            found.append((self.word(4), t_unit, [self.number(t + d, 1) for d in r.normal(0, 0.1, count)]))
            found.append((self.word(5), "%", [self.number(100 * self.air.humidity, 0)] * count))
        if self.kind in ("factor", "factor and word", "factor of one") or (
            self.kind == "observed word" and weather and self.chance(0.5)
        ):
            digits, percent = int(self.any(3, 4)), self.chance(0.1, "factor in per cent")
            shown_as = (
                self.number(100.0 * self.factor, digits - 2) if percent else self.number(self.factor, digits)
            )
            if self.kind == "factor" and self.chance(0.15, "factor above the headings"):
                self.above = f"{self.word(10)}: {shown_as}"
            else:
                found.append((self.word(10), "%" if percent else "", [shown_as] * count))
        if self.chance(0.1, "index column"):
            found.append(
                (str(self.any("#", "No", "Sample", "Record")), "", [str(k + 1) for k in range(count)])
            )
        if self.chance(0.5):
            found.insert(0, (self.word(6), "s", [self.time_of(v) for v in time]))
            if self.clock:
                found[0] = (found[0][0], "", found[0][2])
        if self.chance(0.6 if len(pulls) > 1 else 0.1):
            numbers = np.concatenate([np.full(p.shape[1], k + 1) for k, p in enumerate(pulls)])
            form = self.any("{}", "{}", "Run {}", "run_{:03d}")
            found.append((self.word(7), "", [form.format(int(k)) for k in numbers]))
        for k in r.choice(len(OTHERS), size=int(r.integers(0, 4)), replace=False):
            name, cell = OTHERS[k]
            cells = [str(cell(r)) for _ in range(count)]
            found.append((name, "", [c.replace(".", ",") if self.comma else c for c in cells]))
        for _, _, cells in found[2:]:
            if self.chance(0.03, "bad cells"):
                cells[int(r.integers(count))] = str(self.any("", "---", "ERR", "#N/A"))
        # Mixed up, pulls can only be told apart by their column; off-load rows only by their place.
        plain = not (self.idle or self.hold or self.lug or self.cut or self.coast) and len(pulls) == 1
        self.rows_shuffled = plain and self.chance(0.05, "rows shuffled")
        return found

    def corrected_word(self) -> str:
        return str(self.any(*STANDARD_WORDS[self.standard]))

    def beside(self, name: str, word: str) -> str:
        if not word:
            return name
        return str(self.any(f"{name} {word}", f"{word} {name}", f"{name} ({word})", f"{name}_{word}"))

    def headed(self, name: str, unit: str) -> str:
        if not unit or "[" in name or ("(" in name and unit == ""):
            return name
        return str(
            self.any(
                f"{name} [{unit}]",
                f"{name} [{unit}]",
                f"{name} ({unit})",
                f"{name} / {unit}" if "/" not in unit and "(" not in name else f"{name} [{unit}]",
                f"{name} in {unit}",
            )
        )

    def number(self, value: float, places: int) -> str:
        text = f"{value:.{places}f}"
        if self.thousands and abs(value) >= 1000.0:
            whole, point, rest = text.partition(".")
            text = f"{whole[:-3]}\0{whole[-3:]}{point}{rest}"
        text = text.replace(".", ",") if self.comma else text
        return text.replace("\0", str(self.thousands))

    clock, above = False, ""

    def time_of(self, value: float) -> str:
        if value == 0.0:
            self.clock = self.chance(0.3, "clock times")
            self.date = self.any("", "", "2026-11-20 ", "20.11.2026 ")
        if not self.clock:
            return self.number(value, 2)
        total = 51_000.0 + value
        return f"{self.date}{int(total // 3600):02d}:{int(total // 60 % 60):02d}:{total % 60:04.1f}"

    def titles(self) -> list[str]:
        lines = []
        if self.chance(0.4):
            lines += [str(self.any("Test cell 3", "# Invented", "Engine: 2.5 L four; dyno 2", "% export v2"))]
        if self.chance(0.2):
            lines += ["Date: 2026-11-20", "Operator: -"]
        if self.above:
            lines.append(self.above)
        if self.kind == "line":
            word = self.any(*STANDARD_WORDS[self.standard])
            lines += [
                str(
                    self.any(
                        f"Correction: {word}",
                        f"# torque and power corrected to {word}",
                        f"Data corrected to {word}",
                        f"Corr. standard;{word}",
                    )
                )
            ]
        return lines + [""] * int(self.rng.integers(0, 2))

    def footer(self, columns) -> list[str]:
        if not self.chance(0.08, "summary row"):
            return []
        name = str(self.any("Average", "Mean", "Max", "Mittelwert", "Moyenne", "Media", "Average:"))
        cells = [name] + ["150.0" if k == 1 else "4000" for k in range(1, len(columns))]
        return [self.separator.join(cells)]

    def quoted(self, heading: str) -> str:
        return f'"{heading}"' if self.separator in heading else heading

    def encoded(self, text: str) -> bytes:
        kind = str(self.any("utf-8", "utf-8", "utf-8", "utf-8-sig", "cp1252", "utf-16", "utf-16-le"))
        try:
            raw = text.encode(kind)
        except UnicodeEncodeError:
            return text.encode()
        if kind.startswith("utf-16"):
            self.causes.append(kind)
        return raw


def low_of(rpm: np.ndarray) -> float:
    """The lowest speed."""
    return float(np.min(rpm))


def judged(log: Log, path: Path, engine) -> tuple[str, str]:
    """(how it was read, what was said)."""
    path.write_bytes(log.raw)
    try:
        file = read_pulls(path, engine.pull)
        curve = measured_curve(file, engine, "long", "j1349")
        strange = impossible(engine, curve, "N m")
    except (InputError, RequestError) as error:
        return (REFUSED if log.readable else RIGHT), str(error)
    if strange:
        return (RIGHT if not log.readable else REFUSED), strange
    found = mean_of_pulls(curve.observed)[~curve.between]
    off = found / log.torque(curve.rpm[~curve.between]) - 1.0
    worst = float(np.nanmax(np.abs(off)))
    if worst <= NEAR:
        return RIGHT, ""
    k = int(np.nanargmax(np.abs(off)))
    at = curve.rpm[~curve.between][k]
    said = f"{100 * off[k]:+.1f} % at {at:.0f} rpm; {file.statement.why}"
    return (TOLD if file.omitted else SILENT), said


def counted(seeds, engine, folder: Path, show: bool = False) -> tuple[Counter, dict]:
    """(logs by how they were read, causes of those that were not read rightly)."""
    ways: Counter = Counter()
    causes: dict[str, Counter] = {}
    for seed in seeds:
        log = made_up(seed)
        way, said = judged(log, folder / "log.csv", engine)
        ways[way] += 1
        if way != RIGHT:
            causes.setdefault(way, Counter()).update(log.causes or ["-"])
            if show:
                print(f"{seed} {way}: {said.splitlines()[0][-230:]} | {', '.join(log.causes)}")
    return ways, causes


def main(count: int, first: int = 0) -> None:
    """Read so many logs and print the counts."""
    engine = aircolumn.load(ROOT / "configs" / "rescue-four.yaml").with_runner("long")
    with tempfile.TemporaryDirectory() as folder:
        ways, causes = counted(range(first, first + count), engine, Path(folder), show=True)
    for way, number in ways.most_common():
        print(f"{way}: {number} ({100 * number / count:.1f} %) {dict(causes.get(way, {}))}")


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 0)
