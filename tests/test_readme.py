"""The manual is true: its commands, settings and limits are the program's own."""

import re
import shlex
import tomllib
from pathlib import Path

import pytest
import typer.main
from click import Command

from ledger import cli
from ledger.settings import PREFIX, SECRETS, Settings

HOME = Path(__file__).parents[1]
README = (HOME / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (HOME / "DEVELOPERS.md").read_text(encoding="utf-8")


def commands(group: Command, *before: str) -> dict[tuple[str, ...], Command]:
    """Every command by the words that call it."""
    found = {}
    for name, command in getattr(group, "commands", {}).items():
        found[(*before, name)] = command
        found |= commands(command, *before, name)
    return found


COMMANDS = commands(typer.main.get_command(cli.app))


def shown() -> list[list[str]]:
    """Every call of print-ledger in the README, as words."""
    calls = re.findall(r"(?:`|^ {4}\.venv/bin/|&& \.venv/bin/)print-ledger ([^`\n]*)", README, re.MULTILINE)
    return [shlex.split(call) for call in calls]


def test_every_command_the_readme_shows_is_there_with_its_arguments() -> None:
    assert len(shown()) > 5
    for call in shown():
        name = next(tuple(call[:words]) for words in (2, 1) if tuple(call[:words]) in COMMANDS)
        command, rest = COMMANDS[name], call[len(name) :]
        options = {option for each in command.params for option in each.opts}
        takes = [each for each in command.params if each.param_type_name == "argument"]
        assert {word for word in rest if word.startswith("-")} <= options, name
        assert len([word for word in rest if not word.startswith("-")]) == len(takes), name


def test_every_command_is_in_the_readme() -> None:
    named = {words[0] for words in shown()}
    assert {words[0] for words in COMMANDS} == named
    for words in COMMANDS:
        assert f"`{words[-1]}`" in README or f"print-ledger {words[0]}" in README


@pytest.mark.parametrize("words", sorted(COMMANDS), ids=" ".join)
def test_every_command_says_what_it_does_and_what_each_word_means(words: tuple[str, ...]) -> None:
    command = COMMANDS[words]
    assert command.help
    assert all(getattr(each, "help", "x") for each in command.params)


def test_the_settings_in_the_readme_are_the_settings() -> None:
    rows = dict(re.findall(rf"^\| `{PREFIX}(\w+)` \| (.*?) \|", README, re.MULTILINE))
    for secret in SECRETS:
        assert rows.pop(f"{secret.upper()}_FILE")
    assert rows == {name.upper(): told.description for name, told in Settings.model_fields.items()}
    assert f"| `{Settings.model_fields['port'].default}` |" in README
    assert f"| `{Settings.model_fields['host'].default}` |" in README


def test_the_two_commands_and_the_test_command_install_what_the_project_offers() -> None:
    project = tomllib.loads((HOME / "pyproject.toml").read_text())["project"]
    assert "    python3 -m venv .venv && .venv/bin/pip install . && .venv/bin/print-ledger demo\n" in README
    assert "    python3 -m venv .venv && .venv/bin/pip install -e '.[test]' && .venv/bin/pytest\n" in README
    assert set(re.findall(r"'\.\[(\w+)\]'", README)) <= set(project["optional-dependencies"])
    assert project["scripts"] == {"print-ledger": "ledger.cli:main"}
    assert project["requires-python"] == f">={re.search(r'Python ([0-9.]+) or later', README)[1]}"


def test_every_file_the_manuals_name_is_there() -> None:
    for text in (README, DEVELOPERS):
        for name in re.findall(r"\]\((\w[\w./]*)\)|`((?:ledger|tests|templates)/[\w./]+)`", text):
            path = next(filter(None, name))
            if "sales" not in path:  # an example of how rooms are named
                assert (HOME / path).exists(), path


def test_every_fixture_the_manual_names_is_there() -> None:
    conftest = (HOME / "tests/conftest.py").read_text()
    for name in ("engine", "sqlite_engine", "unaudited_engine", "browser"):
        assert f"`{name}`" in DEVELOPERS
        assert f"def {name}(" in conftest
