"""A folder for a web host: written whole or not at all, only what changed, and never over what is not ours."""

import os
import shutil
from pathlib import Path

import pytest

from ledger.site_folder import LIST, replacing
from tests.cast import refused


def write(place: Path, **files: str) -> tuple[int, int, int]:
    with replacing(place) as site:
        for path, said in files.items():
            site.put(path.replace("_", "/"), said.encode())
    return site.changed, site.same, site.gone


def read(place: Path) -> dict[str, str]:
    files = (path for path in place.rglob("*") if path.is_file() and path.name != LIST)
    return {path.relative_to(place).as_posix(): path.read_text() for path in files}


def test_only_what_changed_is_written_again(tmp_path: Path) -> None:
    place = tmp_path / "public"
    assert write(place, a="1", b_c="2", d="3") == (3, 0, 0)
    before = (place / "b" / "c").stat()
    assert write(place, a="one", b_c="2") == (1, 1, 1)
    after = (place / "b" / "c").stat()
    assert (after.st_ino, after.st_mtime_ns) == (before.st_ino, before.st_mtime_ns)
    assert read(place) == {"a": "one", "b/c": "2"}


def test_lines_are_written_one_after_another_and_left_where_they_are_the_same(tmp_path: Path) -> None:
    for lines, counted in (([b"1", b"2"], (1, 0)), ([b"1", b"2"], (0, 1)), ([b"1", b"2", b"3"], (1, 0))):
        with replacing(tmp_path / "public") as site:
            site.put_lines("journal/lines", iter(lines))
        assert (site.changed, site.same) == counted
    assert read(tmp_path / "public") == {"journal/lines": "1\n2\n3\n"}


def test_where_a_disk_has_no_links_what_is_the_same_is_copied_with_its_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write(tmp_path / "public", a="1")
    before = (tmp_path / "public" / "a").stat()

    def no_links(*_: object) -> None:
        raise OSError("no links here")

    monkeypatch.setattr(os, "link", no_links)
    assert write(tmp_path / "public", a="1") == (0, 1, 0)
    assert (tmp_path / "public" / "a").stat().st_mtime_ns == before.st_mtime_ns


def test_a_folder_with_anything_of_somebody_elses_is_left_alone(tmp_path: Path) -> None:
    place = tmp_path / "public"
    write(place, a="1")
    (place / "diary.txt").write_text("private")
    with refused("holds diary.txt, which was not published from here"):
        write(place, a="2")
    assert read(place) == {"a": "1", "diary.txt": "private"}


@pytest.mark.parametrize("path", ["file", "link", "nowhere/public"])
def test_a_place_that_is_no_folder_is_refused(tmp_path: Path, path: str) -> None:
    (tmp_path / "file").write_text("mine")
    (tmp_path / "link").symlink_to(tmp_path)
    with refused("[Nn]ame a"):
        write(tmp_path / path, a="1")
    assert (tmp_path / "file").read_text() == "mine"


def test_an_earlier_folder_stays_whole_when_writing_breaks_off(tmp_path: Path) -> None:
    place = tmp_path / "public"
    write(place, a="1")
    with pytest.raises(ZeroDivisionError), replacing(place) as site:
        site.put("a", b"2")
        raise ZeroDivisionError
    assert read(place) == {"a": "1"}
    assert [each.name for each in tmp_path.iterdir()] == ["public"]


@pytest.mark.parametrize("at", [1, 2])
def test_a_crash_at_either_rename_leaves_a_whole_folder_that_the_next_run_takes_up(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, at: int
) -> None:
    place, done = tmp_path / "public", 0
    write(place, a="1")

    rename = Path.rename

    def pulled(self: Path, target: Path) -> Path:
        nonlocal done
        done += 1
        if done == at:
            raise KeyboardInterrupt
        return rename(self, target)

    with monkeypatch.context() as patch:
        patch.setattr(Path, "rename", pulled)
        with pytest.raises(KeyboardInterrupt):
            write(place, a="2")
    assert read(place if at == 1 else tmp_path / ".public.earlier") == {"a": "1"}
    assert write(place, a="2", b="3") == (2, 0, 0)
    assert read(place) == {"a": "2", "b": "3"}
    assert [each.name for each in tmp_path.iterdir()] == ["public"]


def test_a_full_disk_is_told_and_changes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    place = tmp_path / "public"
    write(place, a="1")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    with refused("The disk is full"):
        write(place, a="2")
    assert read(place) == {"a": "1"}


def test_two_at_once_are_kept_apart(tmp_path: Path) -> None:
    with replacing(tmp_path / "public"), refused("is being published"):
        write(tmp_path / "public", a="2")


def test_the_list_tells_nobody_a_path(tmp_path: Path) -> None:
    write(tmp_path / "public", C_7K3M="1")
    assert "7k3m" not in (tmp_path / "public" / LIST).read_text().lower()


def test_a_copy_on_a_disk_that_sees_no_case_is_still_known_as_ours(tmp_path: Path) -> None:
    write(tmp_path / "public", C_index="1", c_index="1")
    shutil.rmtree(tmp_path / "public" / "C")  # there `C` and `c` are one folder
    assert write(tmp_path / "public", C_index="1", c_index="1")[2] == 0
