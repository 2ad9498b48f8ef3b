"""What a file states with a plus_minus and what it leaves out, and the engines that follow."""

import json
import re
from fnmatch import fnmatchcase

import jsonschema
import numpy as np
import pytest
import yaml
from scipy.stats import norm
from tests.conftest import CLASSROOM, DEMO, ROOT
from tests.edited import demo_with, leaves

import aircolumn
from aircolumn.engine.description.engine_file import computed_part
from aircolumn.engine.description.places import si_value, value_at
from aircolumn.engine.description.reader import described
from aircolumn.engine.description.reference import default_of, models_in, parts, schema
from aircolumn.engine.description.spread import spread_of
from aircolumn.engine.uncertain import inputs
from aircolumn.engine.uncertain.alternatives import Alternative, K, OneOf, Scaled, Waisted
from aircolumn.engine.uncertain.inputs import said_spread
from aircolumn.engine.uncertain.left_out import LEFT_OUT, TAKEN_AS_IT_IS
from aircolumn.engine.uncertain.unsure import ABOVE, PLUS, TIMES, Unsure
from aircolumn.errors import InputError

CLOSES = "closes_abdc: 44 deg"


def stated(description):
    return inputs.of_all(inputs.stated, description.candidates.values())


def assumed(description):
    return inputs.of_all(inputs.assumed, description.candidates.values())


def all_unsure(description):
    return inputs.of_all(inputs.all_unsure, description.candidates.values())


def unsure(folder, *pairs):
    return aircolumn.load(demo_with(folder, *pairs))


def test_a_plus_minus_changes_nothing_that_is_computed(tmp_path):
    pairs = (
        (CLOSES, "closes_abdc: {value: 44 deg, plus_minus: 2 deg}"),
        ("compression_ratio: 9.2", "compression_ratio: {value: 9.2, plus_minus: 0.2}"),
        ("bore: {to: 38 mm}", "bore: {to: {value: 38 mm, plus_minus: 0.5 mm}}"),
        ("long: {length: 650 mm}", "long: {length: {value: 650 mm, plus_minus: 1 %}}"),
    )
    found, plain = unsure(tmp_path, *pairs), aircolumn.load(DEMO)
    for name in plain.runners:
        assert computed_part(found.with_runner(name)) == computed_part(plain.with_runner(name))
    assert [row.key for row in stated(found)] == [
        "engine.compression_ratio",
        "intake.port.bore.to",
        "intake.valve.closes_abdc",
        "runners.long.length",
    ]
    assert [said_spread(row) for row in stated(found)] == [
        "9.2 +- 0.2",
        "38 mm +- 0.5 mm",
        "44 deg +- 2 deg",
        "650 mm +- 1 %",
    ]
    assert not stated(plain)


@pytest.mark.parametrize(
    ("value", "spread", "half_width", "share"),
    [
        ("420 mm", "2 mm", 2e-3, False),
        ("420 mm", "0.1 in", 2.54e-3, False),
        ("90 degC", "20 K", 20.0, False),
        ("90 degC", "18 degF", 10.0, False),
        ("40 %", "5 %", 0.05, False),
        ("6 L", "50 %", 0.5, True),
        (9.2, 0.2, 0.2, False),
        (9.2, "2 %", 0.02, True),
    ],
)
def test_spread_as_written(value, spread, half_width, share):
    assert spread_of(value, spread) == (pytest.approx(half_width), share)


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("{value: 44 deg}", "value goes with plus_minus alone"),
        ("{value: 44 deg, plus_minus: 2 deg, why: x}", "value goes with plus_minus alone"),
        ("{value: 44 deg, plus_minus: 2 mm}", "'2 mm' does not go with '44 deg': write it in deg, or in %"),
        ("{value: 44 deg, plus_minus: -2 deg}", "'-2 deg': a number greater than 0 is expected"),
        ("{value: 0 deg, plus_minus: 50 %}", "'50 %' of 0 deg is nothing; write it as 2 deg"),
        ("{value: 44 deg, plus_minus: [1]}", "a number with its unit is expected here, as 2 mm or 5 %"),
        ("{value: soon, plus_minus: 2 deg}", "a number, or a number with its unit, is expected"),
        ("{value: 44 deg, plus_minus: .nan}", "a number greater than 0 is expected"),
    ],
)
def test_wrong_plus_minus(written, said, tmp_path):
    with pytest.raises(InputError, match=re.escape(said)) as caught:
        unsure(tmp_path, (CLOSES, f"closes_abdc: {written}"))
    assert caught.value.problems[0].line == 1 + DEMO.read_text().split(CLOSES)[0].count("\n")
    assert caught.value.problems[0].key.startswith("intake.valve.closes_abdc")


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("cylinders: 4", "cylinders: {value: 4, plus_minus: 1}"),
        ("count: 2", "count: {value: 2, plus_minus: 1}"),
        ("ca50: 8 deg", "ca50: {value: 8, plus_minus: 1}"),
    ],
)
def test_plus_minus_of_what_has_none(old, new, tmp_path):
    with pytest.raises(InputError, match=r"only a quantity|has no unit"):
        unsure(tmp_path, (old, new))


def test_the_schema_for_editors_knows_it(tmp_path):
    path = demo_with(
        tmp_path,
        (CLOSES, "closes_abdc: {value: 44 deg, plus_minus: 2 deg}"),
        ("bore: {from: 46 mm, to: 42 mm}", "bore: {value: 44 mm, plus_minus: 1 mm}"),
        ("compression_ratio: 9.2", "compression_ratio: {value: 9.2, plus_minus: 0.2}"),
    )
    told = json.loads(json.dumps(schema()))
    jsonschema.validate(yaml.safe_load(path.read_text()), told)
    wrong = yaml.safe_load(path.read_text())
    wrong["intake"]["valve"]["closes_abdc"] = {"value": "44 deg", "plusminus": "2 deg"}
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(wrong, told)


def defaults():
    """Paths of all keys of the engine file that have a default."""
    for part, places in parts().items():
        for name, field in part.model_fields.items():
            if not (field.is_required() or models_in(field.annotation)) and default_of(field):
                yield from (f"{place}.{field.alias or name}".lstrip(".") for place in places)


def test_every_default_has_a_spread_or_a_reason():
    """By its whole path: a further "angle" somewhere is not excused by another one's."""
    taken = [path for paths in TAKEN_AS_IT_IS.values() for path in paths.split()]
    known = {key.replace(".*", "") for row in LEFT_OUT for key in row.keys}
    there = set(defaults())
    excused = {path: {key for key in there if fnmatchcase(key, path)} for path in taken}
    assert sorted(there - known - set().union(*excused.values())) == []
    assert [path for path, keys in excused.items() if not keys - known] == []  # excuses nobody needs


@pytest.mark.parametrize("file", [DEMO, CLASSROOM, *sorted((ROOT / "configs").glob("*four*.yaml"))])
def test_the_middle_of_what_is_assumed_is_the_engine_as_it_is(file):
    description = aircolumn.load(file)
    plain, data = description.engine, description.source.data
    for row in assumed(description):
        if row.key != "intake.runner.entry.loss" and not isinstance(row.change, Waisted):
            data = row.apply(data, 0.0)
    filled = described(description.source.with_data(data)).engine
    dumps = [e.model_dump(mode="json") for e in (plain, filled)]
    for (path, a), (_, b) in zip(*(list(leaves(d)) for d in dumps), strict=True):
        if a is not None and isinstance(a, float):
            assert b == pytest.approx(a, rel=1e-9, abs=1e-12), path
        elif a is not None:
            assert a == b, path


def test_what_is_stated_is_not_assumed(tmp_path):
    keys = {row.key for row in assumed(aircolumn.load(DEMO))}
    assert "exhaust.collector" in keys
    assert "rings.leak_area" in keys
    found = unsure(
        tmp_path,
        ("mixture: {", "rings: {leak_area: 0.1 mm^2}\n\nmixture: {"),
        (
            "bore: 38 mm, wall_temperature: 450 degC}",
            "bore: 38 mm, wall_temperature: 450 degC}\n  collector: null",
        ),
    )
    left = {row.key for row in assumed(found)}
    assert not {"exhaust.collector", "rings.leak_area"} & left


def one(way, value=2.0, half_width=0.5, path=("combustion", "form")):
    return Unsure("combustion.form", {path: value}, half_width, way, "", "")


def test_where_95_of_100_lie():
    z = norm.ppf((np.arange(1000) + 0.5) / 1000)
    for way, low, high in ((PLUS, 1.5, 2.5), (TIMES, 2.0 / 1.5, 3.0), (ABOVE, 2.0, 2.5)):
        values = np.array([one(way).at(float(x))["combustion", "form"] for x in z])
        assert np.mean((values >= low - 1e-12) & (values <= high + 1e-12)) == pytest.approx(0.95, abs=0.002)
    assert pytest.approx(1.959964, abs=1e-6) == K


def test_values_end_at_their_limits():
    assert one(PLUS, 5.9).at(9.0)["combustion", "form"] == 6.0
    assert one(PLUS, 0.5).at(-9.0)["combustion", "form"] == 0.1
    warm = Unsure("x", {("intake", "ambient", "humidity"): 0.0}, 0.6, ABOVE, "", "")
    assert si_value(("intake", "ambient", "humidity"), warm.at(-K)["intake", "ambient", "humidity"]) == 0.6
    damp = Unsure("x", {("intake", "ambient", "humidity"): 0.5}, 0.6, ABOVE, "", "")
    assert damp.at(9.0)["intake", "ambient", "humidity"] == "100 %"


def test_a_group_instead_of_none():
    description = aircolumn.load(DEMO)
    rows = {r.key: r for r in assumed(description)}
    data = description.source.data
    assert rows["exhaust.collector"].apply(data, 0.1) == data
    collected = rows["exhaust.collector"].apply(data, 1.0)
    engine = described(description.source.with_data(collected)).engine
    assert engine.exhaust.collector.last_bore == pytest.approx(3**0.5 * 0.038, abs=5e-5)
    assert engine.computes_every_cylinder
    longer = rows["exhaust.collector.length"].apply(collected, K)
    assert described(description.source.with_data(longer)).engine.exhaust.collector.length == pytest.approx(
        0.81
    )
    assert rows["exhaust.collector.length"].apply(data, K) == data  # there is none


def test_one_of_several_comes_as_often_as_is_said():
    """The file as it stands around z = 0."""
    change = OneOf(
        ("a",), (Alternative(0.2, None, "x"), Alternative(0.35, 1, "y"), Alternative(0.45, 2, "z"))
    )
    z = norm.ppf((np.arange(10_000) + 0.5) / 10_000)
    found = [change({"a": 0}, float(x))["a"] for x in z]
    assert [found.count(k) / 10_000 for k in (0, 1, 2)] == pytest.approx([0.2, 0.35, 0.45], abs=1e-3)
    assert change.number(0.0) == 0
    assert change.words(str) == "x (20 of 100); y (35 of 100); z (45 of 100)"


def test_what_is_not_listed_ahead_of_the_throttle():
    """An inlet that is not listed may be any of four."""
    description = aircolumn.load(DEMO)
    rows = {r.key: r for r in assumed(description)}
    data, inlet = description.source.data, rows["intake.inlet"]
    built = {inlet.change.number(z): inlet.apply(data, z) for z in np.linspace(-2.5, 2.5, 81)}
    assert set(built) == {0, 1, 2, 3}
    engines = {k: described(description.source.with_data(d)).engine for k, d in built.items()}
    assert engines[0].intake.inlet is None
    assert [e.filter is not None for e in engines[1].intake.inlet] == [False]
    assert [e.filter is not None for e in engines[2].intake.inlet] == [True, False]
    assert engines[3].intake.inlet[1].airbox.volume == pytest.approx(2 * 2.488e-3, rel=2e-3)
    moved = built[3]
    for key, z in (("pipe.length", K), ("pipe.bore", -K), ("airbox.volume", K), ("filter.pressure_drop", -K)):
        moved = rows[f"intake.inlet.{key}"].apply(moved, z)
    first, box, filters, last = described(description.source.with_data(moved)).engine.intake.inlet
    assert (first.pipe.length, last.pipe.length) == pytest.approx((0.65, 0.65))
    assert last.pipe.last_bore == pytest.approx(0.072 / 1.18)
    assert box.airbox.volume == pytest.approx(4.4 * 2.488e-3, rel=2e-3)
    assert filters.filter.pressure_drop == pytest.approx(600.0 / 2.5)


@pytest.mark.parametrize(
    "inlet", ["null", "[{pipe: {length: 300 mm, bore: 78 mm, wall_temperature: 30 degC}}]"]
)
def test_a_stated_inlet_is_not_assumed(inlet, tmp_path):
    found = unsure(tmp_path, ("  plenum: {volume: 6 L}", f"  plenum: {{volume: 6 L}}\n  inlet: {inlet}"))
    assert not {
        r.key for r in assumed(found) if r.key.startswith("intake.inlet") and "roughness" not in r.key
    } - {r.key for r in assumed(found) if ".pipe.heat" in r.key or ".pipe.friction" in r.key}


def test_a_port_between_its_ends():
    """Half-way the mean bore times what it may be off; length and ends are kept."""
    change = Waisted(("intake", "port"), 0.09, 0.042, 0.038, 0.08)
    data = change(
        {"intake": {"port": {"length": "90 mm", "bore": {"to": "38 mm"}, "wall_temperature": 1}}}, K
    )
    port = data["intake"]["port"]
    assert port["wall_temperature"] == 1
    assert [s["length"] for s in port["sections"]] == ["45 mm", "45 mm"]
    assert port["sections"][0]["bore"] == {"from": "42 mm", "to": "43.2 mm"}
    assert port["sections"][1]["bore"] == {"to": "38 mm"}
    assert Scaled(("intake.port.length",), 1.0)({"intake": {"port": {"length": "3 in"}}}, K) == {
        "intake": {"port": {"length": "6 in"}}
    }


def test_lists_move_together_and_candidates_alone(tmp_path):
    found = unsure(
        tmp_path,
        (
            "forward:    [0.70, 0.68, 0.64, 0.59, 0.54, 0.48]",
            "forward: {value: [0.7, 0.6, 0.5, 0.4, 0.4, 0.4], plus_minus: 10 %}",
        ),
        ("long: {length: 650 mm}", "long: {length: {value: 650 mm, plus_minus: 4 mm}}"),
    )
    table, length = stated(found)
    assert length.key == "runners.long.length"
    long, short = found.candidates["long"], found.candidates["short"]
    assert [row.key for row in inputs.stated(short)] == [table.key]
    moved = described(found.source.with_data(length.apply(table.apply(long.data, K), -K))).engine
    assert moved.intake.valve.discharge.forward == pytest.approx([0.77, 0.66, 0.55, 0.44, 0.44, 0.44])
    assert moved.intake.runner.length == pytest.approx(0.646)
    assert value_at(long.data, ("intake", "runner", "length")) == "650 mm"  # not touched


@pytest.mark.parametrize("file", sorted((ROOT / "configs").glob("*four*.yaml")))
def test_engines_of_the_spreads_can_be_built(file):
    description = aircolumn.load(file)
    rows, rng = all_unsure(description), np.random.default_rng(4)
    for _ in range(60):
        data = description.source.data
        for row, z in zip(rows, rng.standard_normal(len(rows)), strict=True):
            data = row.apply(data, float(z))
        described(description.source.with_data(data))


def test_check_lists_them(tmp_path, capsys):
    from aircolumn.cli import main

    path = demo_with(tmp_path, (CLOSES, "closes_abdc: {value: 44 deg, plus_minus: 2 deg}"))
    assert main(["check", str(path)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "Stated with a plus_minus (95 of 100) intake.valve.closes_abdc: 44 deg +- 2 deg" in said
    assert "rings.leak_area: 0.178 mm2, true to a factor of 2 (blow-by of half to two per cent" in said
    assert (
        "cylinder_walls.liner: 136.9 degC +- 30 K (gasoline engines at full load have 100 to 180 degC" in said
    )
