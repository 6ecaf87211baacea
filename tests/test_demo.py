"""The demonstration, written once: what its pages show is true of its book."""

import os
import re
import shlex
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlmodel import Session, col, select

from ledger import audit, clock, editions, home, kept_files, mounts, pieces, recipes, search, sheets, spares
from ledger.database import reading
from ledger.home import Home
from ledger.reckoning.recipe import Charge
from ledger.tables import Cost, Piece

HERE = Path(__file__).parents[1]


def typed(words: list[str], at: Path) -> subprocess.CompletedProcess[str]:
    """A command typed in a folder of one's own."""
    surroundings = {**os.environ, "PYTHONPATH": str(HERE)}
    return subprocess.run(words, cwd=at, env=surroundings, capture_output=True, text=True, check=False)


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """Where the demonstration was written, with a space in its path, and what was printed meanwhile."""
    place = tmp_path_factory.mktemp("the fair")
    done = typed([sys.executable, "-m", "ledger", "demo", "--once", "--folder", "show"], place)
    assert done.returncode == 0, done.stderr
    return place, done.stdout


@pytest.fixture(scope="module")
def shown(told: tuple[Path, str]) -> Iterator[Home]:
    with home.opened(told[0] / "show") as opened:
        yield opened


def test_the_commands_it_names_work_on_it_as_they_are_printed(told: tuple[Path, str]) -> None:
    place, printed = told
    assert " editions, 24 certificates, 23 of them printed, " in printed
    offered = [shlex.split(line) for line in re.findall(r"^  (\S+ .* --data-dir .*)$", printed, re.MULTILINE)]
    said = [typed(words, place) for words in offered]
    assert [done.returncode for done in said] == [0, 0, 0], [done.stderr for done in said]
    check, verify, publish = (done.stdout for done in said)
    assert check.startswith("Everything is as the record says")
    assert verify.startswith("It matches the record")
    assert "24 certificates" in publish and (place / "demonstration-public" / "index.html").is_file()


def edition_of(session: Session, title: str) -> int:
    ((work_id, _),) = search.find(session, title).works
    (edition_id,) = search.editions_of_work(session, work_id)
    return edition_id


def test_the_record_is_sound_and_every_file_is_there(shown: Home) -> None:
    with reading(shown.engine) as session:
        assert audit.audit(session) == []
        assert list(kept_files.wrong(session, shown.folder)) == []


def test_a_sheet_for_two_editions_was_printed_and_counted_three_spoilt_and_one_spare(shown: Home) -> None:
    with reading(shown.engine) as session:
        (plan,) = sheets.newest(session)
        titles = [made_for.title if made_for else "" for made_for in plan.sizes]
        assert titles == ["The Bell Below Thessrow", "Sheep Walking Home Before the Water"]
        assert [(run.sheets, run.planned, run.good, run.spoilt) for run in plan.runs] == [(3, 18, 15, 3), (3, 3, 3, 0)]
        paid = session.exec(select(Cost.amount_minor).where(col(Cost.run_id).in_([run.id for run in plan.runs])))
        assert sum(paid) == 3 * 1020 + 480
        assert sum(spares.by_size(session, edition_of(session, titles[0])).values()) == 1
        (ordered,) = pieces.views(session, col(Piece.state) == "allocated")
        assert ordered.shown == "14/15" and ordered.title == titles[0]


def test_prints_are_offered_in_the_mount_that_was_planned_for_their_frame(shown: Home) -> None:
    with reading(shown.engine) as session:
        (row,) = mounts.listing(session)
        planned = mounts.kept(session, row.id or 0)
        (size,) = editions.facts(session, edition_of(session, "The Postman’s Causeway"), clock.today()).sizes
        assert size.offer.mount_plan_id == row.id and size.offer.mounting == mounts.words(planned.plan)
        assert planned.draft.frame_id and planned.draft.cutter_id
        ((_, offcut),) = mounts.serving(session, planned.plan)
        assert (offcut.width_um, offcut.height_um) == (560_000, 810_000)


def test_four_prints_were_finished_by_the_recipe_of_that_mount_with_own_time(shown: Home) -> None:
    with reading(shown.engine) as session:
        (recipe,) = recipes.listing(session)
        postman = editions.facts(session, edition_of(session, "The Postman’s Causeway"), clock.today())
        assert recipes.of_offer(session, postman.sizes[0].offer) == recipe
        (done,) = recipes.finishings(session, recipe.name)
        finished = pieces.those(session, done.piece_ids)
        assert [seen.shown for seen in finished.values()] == ["26/40", "27/40", "28/40", "29/40"]
        charged = recipes.spent(session, done.piece_ids)
        assert set(charged.values()) <= {Charge(992, 800), Charge(991, 800)} and done.own_time == 4 * 800
