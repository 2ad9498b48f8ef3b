"""The key reference and the schema say what the reader takes, no more and no less."""

import json

import pytest
import yaml
from tests.conftest import ROOT

from aircolumn.cli import main
from aircolumn.engine.description.base import FileModel
from aircolumn.engine.description.reference import own_keys, parts, schema
from aircolumn.output.key_reference import figures_text, keys_text

ENGINES = [p for p in sorted((ROOT / "configs").glob("*.yaml")) if not p.name.startswith("study")]


def test_reference_is_up_to_date():
    """Made anew by: aircolumn schema --keys > configs/KEYS.md"""
    assert (ROOT / "configs" / "KEYS.md").read_text() == keys_text() + "\n"


def test_reference_of_figures_is_up_to_date():
    """Made anew by: aircolumn schema --figures > configs/FIGURES.md"""
    assert (ROOT / "configs" / "FIGURES.md").read_text() == figures_text() + "\n"


def test_every_key_has_its_meaning():
    bare = [
        f"{part.__name__}.{key.name}"
        for part in parts()
        for base in part.__mro__
        if issubclass(base, FileModel) and base is not FileModel
        for key in own_keys(base)
        if not key.meaning
    ]
    assert not bare


def test_defaults_and_limits_are_those_of_the_models():
    keys = {(part.__name__, key.name): key for part in parts() for key in own_keys(part)}
    assert keys["Ambient", "pressure"].default == "101.325 kPa"
    assert keys["Ambient", "temperature"].default == "25 degC"
    assert keys["Throttle", "angle"].default == "90 deg"
    assert keys["Cylinders", "rod"].must
    assert not keys["Cylinders", "pin_offset"].must
    assert keys["Cylinders", "cylinders"].takes == "whole number from 1 to 16"
    assert keys["Mixture", "delivery"].takes == "premixed, port, direct"
    assert keys["Section", "bend_angle"].takes == (
        "angle with its unit (deg); at least 0 deg and at most 360 deg"
    )


@pytest.mark.parametrize("path", ENGINES, ids=lambda p: p.stem)
def test_demo_files_fit_the_schema(path):
    jsonschema = pytest.importorskip("jsonschema")
    jsonschema.validate(yaml.safe_load(path.read_text()), schema())


@pytest.mark.parametrize(
    "change",
    [
        {"runers": {}},
        {"mixture": {"delivery": "carburettor", "air_fuel_ratio": 13.0}},
        {"engine": {"cylinders": 4}},
        {"runners": {"a": {"lenth": "1 m"}}},
    ],
)
def test_wrong_files_do_not(change):
    jsonschema = pytest.importorskip("jsonschema")
    data = yaml.safe_load(ENGINES[0].read_text())
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({**data, **change}, schema())


def test_commands(capsys):
    assert main(["schema"]) == 0
    assert json.loads(capsys.readouterr().out) == schema()
    assert main(["schema", "--keys"]) == 0
    assert capsys.readouterr().out == keys_text() + "\n"
