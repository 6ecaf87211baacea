"""Settings from the environment, prefix PRINT_LEDGER_; a secret also from the file named by ..._FILE."""

import os
from pathlib import Path

from pydantic import Field
from pydantic_settings import BaseSettings, SettingsConfigDict

from ledger.errors import Refusal

PREFIX = "PRINT_LEDGER_"


class Settings(BaseSettings):
    """What the person who runs the ledger may choose."""

    model_config = SettingsConfigDict(env_prefix=PREFIX, extra="ignore", frozen=True)

    data_dir: Path = Field(
        default_factory=lambda: Path.home() / "print-ledger", description="folder of the ledger"
    )
    database_url: str = Field(default="", description="PostgreSQL address; empty: SQLite in the data folder")
    public_url: str = Field(default="", description="scheme and host that QR codes carry, https, no path")
    host: str = Field(default="127.0.0.1", description="address to listen on")
    port: int = Field(default=8000, ge=0, le=65535, description="port to listen on")
    allowed_hosts: str = Field(default="", description="further host names answered, comma between")

    def hosts(self) -> frozenset[str]:
        return frozenset(part.strip().lower() for part in self.allowed_hosts.split(",") if part.strip())


def read_settings(**chosen: object) -> Settings:
    """The settings in force; `chosen` (from the command line) wins over the environment.

    Raises Refusal when a named secret file cannot be read.
    """
    place = os.environ.get(PREFIX + "DATABASE_URL_FILE")
    if place and "database_url" not in chosen:
        try:
            chosen["database_url"] = Path(place).read_text().strip()
        except OSError as cause:
            raise Refusal(f"{PREFIX}DATABASE_URL_FILE names {place}, which cannot be read: {cause.strerror}.") from cause
    return Settings(**chosen)  # type: ignore[arg-type]
