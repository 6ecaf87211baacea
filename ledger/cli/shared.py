"""What several commands need: their options, the settings, and the ledger itself."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, Any

import typer

from ledger.errors import Refusal
from ledger.settings import Settings, read_settings

DataDir = Annotated[Path | None, typer.Option("--data-dir", help="Folder of the ledger.", show_default=False)]


def settings_of(**chosen: Any) -> Settings:
    """The settings, what was typed before what is set elsewhere; None was not typed. Raises Refusal."""
    return read_settings(**{name: value for name, value in chosen.items() if value is not None})


@contextmanager
def engine_of_a_ledger(settings: Settings) -> Iterator[Any]:
    """The engine of a ledger that is there, which may be open elsewhere too. Raises Refusal."""
    from ledger import home
    from ledger.database import make_engine

    refuse_where_there_is_none(settings)
    engine = make_engine(settings.database_url or f"sqlite:///{settings.data_dir / home.LEDGER}")
    try:
        yield engine
    finally:
        engine.dispose()


def refuse_where_there_is_none(settings: Settings, more: str = "") -> None:
    """`more` is said after how to name the folder. Raises Refusal."""
    from ledger import home

    if not settings.database_url and not home.holds_ledger(settings.data_dir):
        raise Refusal(f"There is no ledger in {settings.data_dir}. Name its folder with --data-dir.{more}")
