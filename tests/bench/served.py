"""The ledger served for measuring, with one bare route in it: `python -m tests.bench.served FILE PORT`."""

import sys
from pathlib import Path

import uvicorn

from ledger.database import make_engine
from ledger.settings import Settings
from ledger.web.app import make_app


def main(file: Path, port: int) -> None:
    app = make_app(make_engine(f"sqlite:///{file}"), Settings(data_dir=file.parent), file.parent)

    @app.get("/bare", include_in_schema=False)
    async def bare() -> dict[str, bool]:
        return {"live": True}

    app.router.routes.insert(0, app.router.routes.pop())  # looked at before every other door
    uvicorn.run(app, port=port, log_level="warning")


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]))
