"""A file that is being changed: where keys go, undo, drafts, saving, other programs."""

import os
import stat

import pytest
from tests.conftest import DEMO

from aircolumn.errors import InputError, RequestError
from aircolumn.live.opened import Opened, problems_of

LENGTH = ("intake", "runner", "length")


@pytest.fixture(autouse=True)
def own_cache(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))


@pytest.fixture
def path(tmp_path):
    file = tmp_path / "engine.yaml"
    file.write_bytes(DEMO.read_bytes().replace(b"\n", b"\r\n"))
    return file


def candidates(path, text):
    """The file with candidates in place of its runners."""
    kept = path.read_text().partition("runners:")[0]
    path.write_text(kept + text)
    return Opened(path)


def test_a_runners_key_is_its_own_and_the_rest_is_everybodys(path):
    opened = Opened(path)
    opened.put(LENGTH, "17 in", "long", shared=False)
    opened.put(("intake", "plenum", "volume"), "5 L", "long", shared=False)
    changed = [
        a for a, b in zip(opened.now.split(b"\r\n"), opened.saved.split(b"\r\n"), strict=True) if a != b
    ]
    assert changed == [b"  plenum: {volume: 5 L}", b"  long: {length: 17 in}"]
    assert opened.description.with_runner("long").intake.runner.length == pytest.approx(0.4318)


def test_a_group_of_a_runner_is_written_whole(path):
    """A candidate's bore takes the place of that of all."""
    opened = Opened(path)
    opened.put(("intake", "runner", "bore", "to"), "40 mm", "long", shared=False)
    assert b"  long: {length: 650 mm, bore: {from: 46 mm, to: 40 mm}}\r\n" in opened.now
    opened.put(("intake", "runner", "bore", "from"), "50 mm", "long", shared=False)
    assert b"bore: {from: 50 mm, to: 40 mm}}\r\n" in opened.now


def test_candidates_keys_are_theirs_unless_shared(path):
    opened = candidates(path, "candidates:\n  stock: {}\n  tall: {intake.runner.length: 700 mm}\n")
    opened.put(LENGTH, "710 mm", "tall", shared=False)
    opened.put(("intake", "plenum", "volume"), "5 L", "stock", shared=False)
    opened.put(("intake", "throttle", "bore"), "60 mm", "stock", shared=True)
    text = opened.now.decode()
    assert "stock: {intake.plenum.volume: 5 L}" in text
    assert "tall: {intake.runner.length: 710 mm}" in text
    assert "throttle: {bore: 60 mm, shaft: 9 mm}" in text


def test_what_no_engine_can_be_changes_nothing(path):
    opened = Opened(path)
    for key, typed, said in (
        (LENGTH, "700", "has no unit"),
        (LENGTH, "9 m", "at most 5 m"),
        (("intake", "valve", "count"), "two", "number"),
        (("intake", "runner", "lenght"), "1 mm", "length"),
    ):
        with pytest.raises((InputError, RequestError)) as error:
            opened.put(key, typed, "long", shared=False)
        (problem,) = problems_of(error.value, key)
        assert said in problem["message"]
    assert opened.now == opened.saved
    assert not opened.past


def test_a_drag_is_undone_as_one(path):
    opened = Opened(path)
    for size in ("660 mm", "670 mm", "680 mm"):
        opened.put(LENGTH, size, "long", shared=False, move="move 1")
    opened.put(LENGTH, "690 mm", "long", shared=False, move="move 2")
    lengths = []
    for step in (opened.undo, opened.undo, opened.undo, opened.redo, opened.redo):
        step()
        lengths.append(opened.description.with_runner("long").intake.runner.length)
    assert lengths == pytest.approx([0.68, 0.65, 0.65, 0.68, 0.69])


def test_saving_keeps_the_rest_and_the_permissions(path):
    path.chmod(0o640)
    opened = Opened(path)
    opened.put(LENGTH, "700 mm", "long", shared=False)
    opened.save()
    assert (
        path.read_bytes()
        == opened.saved
        == DEMO.read_bytes().replace(b"\n", b"\r\n").replace(b"650 mm", b"700 mm")
    )
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    assert [p.name for p in path.parent.iterdir() if p.name.startswith(".")] == []
    assert not opened.changed


def test_what_is_not_saved_comes_back(path):
    one = Opened(path)
    one.put(LENGTH, "700 mm", "long", shared=False)
    another = Opened(path)  # as after a kill
    assert another.restored
    assert another.now == one.now
    another.undo()
    assert another.now == another.saved
    assert not Opened(path).restored


def test_another_programs_change_is_not_overwritten_unasked(path):
    opened = Opened(path)
    opened.put(LENGTH, "700 mm", "long", shared=False)
    path.write_bytes(opened.saved.replace(b"6 L", b"7 L"))
    assert opened.changed_on_disk
    with pytest.raises(RequestError, match="changed by another program"):
        opened.save()
    assert b"7 L" in path.read_bytes()
    opened.take_disk()
    assert opened.description.engine.intake.plenum.volume == pytest.approx(0.007)
    opened.undo()
    opened.overwrite()
    assert b"6 L" in path.read_bytes()
    assert b"700 mm" in path.read_bytes()


def test_a_link_is_followed_and_stays(path, tmp_path):
    link = tmp_path / "link.yaml"
    link.symlink_to(path)
    opened = Opened(link)
    opened.put(LENGTH, "700 mm", "long", shared=False)
    opened.save()
    assert link.is_symlink()
    assert b"700 mm" in path.read_bytes()


@pytest.mark.skipif(os.getuid() == 0, reason="root may write anywhere")
def test_a_folder_that_cannot_be_written_is_said(path):
    opened = Opened(path)
    opened.put(LENGTH, "700 mm", "long", shared=False)
    path.parent.chmod(0o500)
    with pytest.raises(RequestError, match="cannot be written"):
        opened.save()


def test_candidates_are_added_named_deleted_and_ordered(path):
    opened = Opened(path)
    opened.candidate("add", "long", "longer")
    opened.candidate("rename", "short", "stub")
    opened.candidate("delete", "middle")
    opened.candidate("order", "", names=["longer", "stub", "long"])
    assert list(opened.description.candidates) == ["longer", "stub", "long"]
    assert opened.source.data["switchable"] == {"two-way": ["long", "stub"]}
    for wrong in ("CON", "a/b", "long"):
        with pytest.raises((InputError, RequestError)):
            opened.candidate("add", "long", wrong)
    assert list(opened.description.candidates) == ["longer", "stub", "long"]
    opened.candidate("delete", "stub")
    assert "switchable" not in opened.source.data or not opened.source.data["switchable"]
    opened.undo()
    assert opened.source.data["switchable"] == {"two-way": ["long", "stub"]}


def test_a_file_without_candidates_gets_its_first(path):
    text = "\n".join(
        x
        for x in path.read_text().splitlines()
        if not x.startswith(("runners", "switchable", "  short", "  middle", "  long", "  two"))
    )
    path.write_text(text)
    opened = Opened(path)
    assert list(opened.description.candidates) == ["runner"]
    opened.candidate("add", "runner", "other")
    assert list(opened.description.candidates) == ["runner", "other"]
