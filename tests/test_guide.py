"""The pages of the guide: what they show is so."""

import importlib
import re

import pytest
import yaml
from tests.conftest import DEMO, ROOT
from tests.test_readme import GUIDE, blocks, commands_in

import aircolumn

NO_EXAMPLE = {"index", "theory", "words", "api"}  # numbers of theory: test_theory.py
ENGINE_PAGES = ("pipes", "valves", "mixture", "inlet", "exhaust", "friction", "manifolds", "level", "pulls")
EXAMPLES = [(page, k) for page in ENGINE_PAGES for k in range(len(blocks("yaml", GUIDE[page])))]
#: keys of the demo that an example takes the place of
INSTEAD = {
    "sections": ("length", "bore"),
    "surroundings": ("wall_temperature",),
    "log": ("volume",),
    "bench": ("lift_ratio", "forward", "reverse"),
    "delivery": ("injection_start", "injection_duration"),
    "relative_air_fuel_ratio": ("air_fuel_ratio",),
    "candidates": ("runners", "switchable"),
    "use": ("interest_from", "interest_to"),
}

WHOLE = ("lift", "runners")


def merged(data: dict, example: dict) -> dict:
    """The demo's keys with those of an example in their places; lists and lifts are taken whole."""
    whole = {k: v for k, v in data.items() if k not in {x for key in example for x in INSTEAD.get(key, ())}}
    for key, value in example.items():
        group = (
            isinstance(value, dict) and isinstance(whole.get(key), dict) and key not in ("lift", "runners")
        )
        whole[key] = merged(whole[key], value) if group else value
    return whole


@pytest.mark.parametrize(("page", "k"), EXAMPLES)
def test_keys_of_an_example_are_read(page, k, tmp_path):
    """Each is a part of an engine file: laid over the demo, it is one."""
    example, demo = yaml.safe_load(blocks("yaml", GUIDE[page])[k]), yaml.safe_load(DEMO.read_text())
    if "sections" in example.get("intake", {}).get("runner", {}):  # of which candidates change nothing
        del demo["runners"], demo["switchable"]
    if "rating" in example:  # which brings the air
        del demo["intake"]["ambient"]
    file = tmp_path / "engine.yaml"
    alone = {key: value for key, value in demo.items() if key not in ("runners", "switchable")}
    (tmp_path / "race-manifold.yaml").write_text(yaml.safe_dump(alone))  # which an example names
    (tmp_path / "drive.csv").write_text("rpm\n2000\n2500\n3000\n")
    file.write_text(yaml.safe_dump(merged(demo, example), sort_keys=False))
    assert aircolumn.load(file).engine.block.cylinders == 4


def test_the_study_is_read(tmp_path):
    text, searched = blocks("yaml", GUIDE["studies"])
    (tmp_path / "search.yaml").write_text(searched.replace("rescue-four.yaml", str(DEMO)))
    assert len(aircolumn.read_study(tmp_path / "search.yaml").axes) == 2
    (tmp_path / "study.yaml").write_text(text.replace("rescue-four.yaml", str(DEMO)))
    assert len(aircolumn.read_study(tmp_path / "study.yaml").rows) == 45
    for line in re.findall(r"^# (search|sample|sensitivity): (.*)$", text, re.MULTILINE):
        spans = re.sub(r", steps: 15|\n  intake.runner.bore:.*", "", text)
        file = tmp_path / f"{line[0]}.yaml"
        file.write_text(spans.replace("rescue-four.yaml", str(DEMO)) + f"{line[0]}: {line[1]}\n")
        assert aircolumn.read_study(file).axes


@pytest.mark.parametrize("page", sorted(set(GUIDE) - NO_EXAMPLE))
def test_every_page_has_an_example(page):
    """Commands and Python are run by test_readme.py."""
    assert commands_in(GUIDE[page]) or blocks("python", GUIDE[page])


def test_links_lead_somewhere():
    for page, text in {**GUIDE, "README": (ROOT / "README.md").read_text()}.items():
        base = ROOT if page == "README" else ROOT / "notebooks" / "guide"
        for target in re.findall(r"\]\(([^)#]+)\)", text):
            assert (base / target).exists(), f"{page}: {target}"


def test_the_site_has_every_page():
    config = (ROOT / "notebooks" / "mkdocs.yml").read_text()
    assert set(re.findall(r": (\w+)\.md$", config, re.MULTILINE)) == set(GUIDE)
    assert {f"{page}.md" for page in GUIDE} - {"index.md"} <= set(
        re.findall(r"\((\w+\.md)\)", GUIDE["index"])
    )


def test_words_are_those_of_the_code():
    """Every name of the page of words stands in the sources, or among the keys."""
    sources = [f.read_text() for f in (ROOT / "solver").rglob("*.py")]
    known = "\n".join([*sources, (ROOT / "configs" / "KEYS.md").read_text(), "\n".join(GUIDE)])
    for name in re.findall(r"`([a-zA-Z_.]+)`", GUIDE["words"]):
        last = name.removesuffix(".py").rsplit(".", 1)[-1]
        if last:
            assert re.search(rf"\b{last}\b", known) or list((ROOT / "solver").rglob(f"{last}.py")), name


def test_public_names_are_all_shown():
    functions, returned = GUIDE["api"].split("## What functions return")
    shown = {line.rsplit(".", 1)[1] for line in functions.splitlines() if line.startswith(":::")}
    assert shown == set(aircolumn.__all__)
    assert {"Run", "Record", "DuctProfile", "Description", "TraceFit"} <= set(
        re.findall(r"\.(\w+)$", returned, re.M)
    )


@pytest.mark.parametrize("name", re.findall(r"^::: (\S+)$", GUIDE["api"], flags=re.MULTILINE))
def test_what_the_api_page_documents_is_there(name):
    module, _, function = name.rpartition(".")
    assert getattr(importlib.import_module(module), function).__doc__
