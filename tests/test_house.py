"""The plan of the house, kept by reading the code itself: who may import whom, and where the world comes in."""

import ast
import re
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

LEDGER = Path(__file__).parents[1] / "ledger"
MANUAL = LEDGER.parent / "DEVELOPERS.md"
# The floors as the manual lists them, each module after all it may import: 'floor 1   errors settings ...'
ORDER = " ".join(re.findall(r"^floor \d +(.*(?:\n {8,}.*)*)", MANUAL.read_text(encoding="utf-8"), re.MULTILINE)).split()
FREE = {"errors", "paths"}  # these import nothing of the house, so every floor may use them


def modules() -> Iterator[tuple[str, str, ast.Module]]:
    """Each module's place in ORDER, its dotted name inside `ledger`, and its syntax tree."""
    for path in sorted(LEDGER.rglob("*.py")):
        name = ".".join(path.relative_to(LEDGER).with_suffix("").parts).removesuffix(".__init__")
        if name != "__init__" and not name.startswith("migrations.versions."):
            yield name.split(".")[0], name, ast.parse(path.read_text(encoding="utf-8"))


def imported(tree: ast.Module) -> set[str]:
    """Everything a module imports, wherever in it: 'datetime', 'ledger.sales'."""
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            inner = node.module == "ledger"
            found |= {f"ledger.{alias.name}" for alias in node.names} if inner else {node.module or ""}
    return found


def rooms_in(tree: ast.Module) -> set[str]:
    return {name.split(".")[1] for name in imported(tree) if name.startswith("ledger.")}


def spoken(tree: ast.Module) -> set[str]:
    """Every name and attribute a module uses, dotted where it is short: 'date.today'."""
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute):
            found.add(node.attr)
            if isinstance(node.value, ast.Name):
                found.add(f"{node.value.id}.{node.attr}")
        elif isinstance(node, ast.Name):
            found.add(node.id)
    return found


@pytest.mark.parametrize(("place", "name", "tree"), [pytest.param(*each, id=each[1]) for each in modules()])
def test_a_module_imports_only_what_stands_below_it(place: str, name: str, tree: ast.Module) -> None:
    below = set(ORDER[: ORDER.index(place)]) | FREE
    if place == "paper":  # plain values in, bytes out: it never sees the book
        below = {"reckoning"} | FREE
    if (LEDGER / place).is_dir():
        below.add(place)
    if place == "migrations":
        below |= {"database", "schema"} if name == "migrations.__main__" else {"tables"}
    assert rooms_in(tree) <= below


def test_reckoning_knows_the_standard_library_and_nothing_else() -> None:
    for place, name, tree in modules():
        if place == "reckoning":
            outside = {module.split(".")[0] for module in imported(tree)} - set(sys.stdlib_module_names)
            assert outside <= {"ledger"}, name


def test_the_doors_never_see_the_database_library() -> None:
    for place, name, tree in modules():
        if place in ("web", "cli"):
            assert not {module.split(".")[0] for module in imported(tree)} & {"sqlalchemy", "sqlmodel"}, name


def test_the_command_imports_at_its_head_nothing_that_takes_long() -> None:
    for place, name, tree in modules():
        if place == "cli":
            head = [node for node in tree.body if isinstance(node, ast.Import | ast.ImportFrom)]
            free = {"typer", "ledger.errors", "ledger.settings"}
            asked = {each for each in imported(ast.Module(head, [])) - free if not each.startswith("ledger.cli.")}
            assert {each.split(".")[0] for each in asked} <= set(sys.stdlib_module_names), name


def outside(*places: str) -> Iterator[tuple[str, ast.Module]]:
    for _, name, tree in modules():
        if not any(name == place or name.startswith(f"{place}.") for place in places):
            yield name, tree


def test_the_clock_is_read_in_one_place() -> None:
    reads = {"datetime.now", "datetime.today", "datetime.utcnow", "date.today", "time.time", "time.localtime"}
    for name, tree in outside("clock"):
        assert not spoken(tree) & reads, name


def test_chance_comes_from_one_place() -> None:
    for name, tree in outside("chance"):
        assert not imported(tree) & {"secrets", "random", "uuid"}, name
        assert "os.urandom" not in spoken(tree), name


def test_sql_in_words_stands_only_where_the_database_is_kept() -> None:
    for name, tree in outside("database", "migrations"):
        assert "exec_driver_sql" not in spoken(tree), name
        # the conditions of partial indexes
        assert name == "tables" or not {"text", "sa.text"} & calls_of_sqlalchemy(tree), name


def calls_of_sqlalchemy(tree: ast.Module) -> set[str]:
    return {
        alias.name
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("sqlalchemy")
        for alias in node.names
    }


def test_the_second_door_is_opened_only_for_what_is_no_part_of_the_record() -> None:
    opened = {name for name, tree in outside("database") if "housekeeping" in spoken(tree)}
    assert opened <= {"backups", "cli.accounts", "cli.demonstration", "cli.serving", "web.accounts", "web.sign_in"}


def test_no_act_commits_or_rolls_back_by_itself() -> None:
    for name, tree in outside("database", "web", "cli"):
        assert not {"session.commit", "session.rollback", "begin_nested"} & spoken(tree), name
