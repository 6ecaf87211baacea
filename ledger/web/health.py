"""Whether the ledger runs, and whether it can keep a record; for whoever watches the machine."""

import os
from functools import cache

from fastapi import APIRouter
from starlette.responses import JSONResponse, Response

from ledger.schema import newest_schema, schema_of
from ledger.web.house import Here

router = APIRouter(prefix="/health", include_in_schema=False)
newest = cache(newest_schema)


@router.get("/live")
def live() -> dict[str, bool]:
    """The program answers."""
    return {"live": True}


@router.get("/ready")
def ready(house: Here) -> Response:
    """The database answers, in this program’s schema, and the data folder can be written to."""
    try:
        wrong = "" if schema_of(house.engine) == newest() else "the schema is not this program’s"
    except Exception:
        wrong = "the database does not answer"
    if not wrong and not os.access(house.data_dir, os.W_OK):
        wrong = "the data folder cannot be written to"
    return JSONResponse({"ready": not wrong, **({"why": wrong} if wrong else {})}, 503 if wrong else 200)
