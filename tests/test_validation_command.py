"""``python -m validation`` for people and for CI servers."""

import json
from xml.etree import ElementTree

import pytest
from validation import __main__ as command
from validation import mutations, results
from validation.check import Check
from validation.results import Result, as_json, as_junit, closing_line, failed, line

HELD = Check("c", "a speed, m/s", 2.0, 2.001, 0.01, "a handbook")
MISSED = Check("c", "a guess", 2.0, 3.0, 0.1, "common practice, no source", "reported")
OUTSIDE = Check("c", "a bound", 1.0, 2.0, 0.0, "a handbook", "at most")
BOUND = Check("c", "a bound that holds", 1.0, 0.5, 0.0, "a handbook", "at most")
LEFT_OUT = Result("other", why="cantera not installed")


@pytest.mark.parametrize(
    ("rows", "plain", "strict"),
    [
        ([Result("c", [HELD, BOUND])], False, False),
        ([Result("c", [HELD, MISSED])], False, True),
        ([Result("c", [HELD]), LEFT_OUT], False, True),
        ([Result("c", [HELD, OUTSIDE])], True, True),
    ],
)
def test_what_fails(rows, plain, strict):
    assert failed(rows, False) is plain
    assert failed(rows, True) is strict


def test_the_closing_line_hides_nothing():
    said = closing_line([Result("c", [HELD, MISSED, OUTSIDE]), LEFT_OUT])
    assert said == (
        "3 rows of 1 case: 1 outside the tolerance, 1 reported as missed; 1 case left out\n"
        "  other: cantera not installed"
    )


def test_rows():
    assert line(MISSED).endswith("(missed)")
    assert line(OUTSIDE).endswith("<-- outside")
    assert "0.0e+00" not in line(BOUND)  # a bound that holds is no exact agreement
    long = Check("c", 60 * "x", 2.0, 2.0, 0.1, "s")
    assert line(long).split("\n")[1].split() == ["2", "2", "0.0e+00", "1.0e-01", "s"]


def test_json_and_junit():
    done = [Result("c", [HELD, MISSED, OUTSIDE], seconds=1.5), LEFT_OUT]
    told = json.loads(as_json(done))
    assert [r["status"] for r in told["cases"][0]["rows"]] == ["passed", "missed", "outside"]
    assert told["cases"][1]["left_out"] == "cantera not installed"
    for strict, failures, skipped in ((False, 1, 2), (True, 3, 0)):
        root = ElementTree.fromstring(as_junit(done, strict))
        assert len(root.findall(".//testcase")) == 4
        assert len(root.findall(".//failure")) == failures
        assert len(root.findall(".//skipped")) == skipped


def test_one_case_by_name(tmp_path, monkeypatch, capsys):
    files = [tmp_path / "v.json", tmp_path / "v.xml", tmp_path / "figures"]
    monkeypatch.setattr(
        "sys.argv", ["validation", "orifice", "--strict", "--json", str(files[0]), "--junit", str(files[1])]
    )
    assert command.main() == 0
    assert "of 1 case: 0 outside" in capsys.readouterr().out
    assert [f.exists() for f in files] == [True, True, False]
    assert [c["case"] for c in json.loads(files[0].read_text())["cases"]] == ["orifice"]
    monkeypatch.setattr("sys.argv", ["validation", "no-such-case"])
    with pytest.raises(SystemExit, match="2"):
        command.main()
    assert "no case 'no-such-case'; there are: acoustics," in capsys.readouterr().err


@pytest.mark.parametrize(("file", "text", "changed"), [*mutations.MUTATIONS, mutations.LAYOUT])
def test_faults_that_are_planted_can_be(file, text, changed):
    source = (mutations.ROOT / mutations.FLOW / file).read_text()
    assert source.count(text) == 1
    assert text != changed


def test_known_misses_are_a_list(monkeypatch, tmp_path):
    """Strict: a miss that is listed is none, one that is not listed is, and so is one that holds by now."""
    monkeypatch.setattr(results, "KNOWN", tmp_path / "known.txt")
    ran = [Result("c", [HELD, MISSED])]
    both = f"c: {MISSED.quantity}\nc: {HELD.quantity}"
    for listed, fails in (("", True), (f"c: {MISSED.quantity}", False), (both, True)):
        (tmp_path / "known.txt").write_text(f"# known\n{listed}\n")
        assert results.failed(ran, True) == fails
        assert not results.failed(ran, False)
    (tmp_path / "known.txt").write_text(f"c: {MISSED.quantity}\nother: x\n")
    assert results.unlisted(ran) == []
    assert "failure" not in as_junit(ran, True)


def test_names_of_a_suite_differ():
    twice = [Check("c", "at 20 degC", 1.0, 1.0, 0.1, source) for source in ("Buck", "CoolProp")]
    root = ElementTree.fromstring(as_junit([Result("c", twice)], False))
    assert [t.get("name") for t in root.iter("testcase")] == ["at 20 degC (Buck)", "at 20 degC (CoolProp)"]
