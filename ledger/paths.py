"""Where the project's own files lie: inside the package in a wheel, beside it in a checkout."""

from pathlib import Path

PACKAGE = Path(__file__).parent


def folder(name: str) -> Path:
    """The folder `templates` or `demo_data`.

    Raises FileNotFoundError where neither place has it.
    """
    for place in (PACKAGE / name, PACKAGE.parent / name):
        if place.is_dir():
            return place
    raise FileNotFoundError(f"{name}/ is missing beside {PACKAGE}")
