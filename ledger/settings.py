"""Settings from the environment, prefix PRINT_LEDGER_; a secret also from the file named by ..._FILE."""

import os
import re
from dataclasses import dataclass
from pathlib import Path

from pydantic import Field, SecretStr, ValidationError
from pydantic_settings import BaseSettings, SettingsConfigDict

from ledger.errors import Refusal
from ledger.reckoning.web_addresses import scheme_and_host

PREFIX = "PRINT_LEDGER_"
SECRETS = ("database_url", "key_passphrase")


class Settings(BaseSettings):
    """What the person who runs the ledger may choose."""

    model_config = SettingsConfigDict(env_prefix=PREFIX, extra="ignore", frozen=True)

    data_dir: Path = Field(default_factory=lambda: Path.home() / "print-ledger", description="folder of the ledger")
    database_url: str = Field(default="", description="PostgreSQL address; empty: SQLite in the data folder")
    key_passphrase: SecretStr = Field(default=SecretStr(""), description="passphrase of the signing keys")
    public_url: str = Field(default="", description="scheme and host that QR codes carry, https, no path")
    host: str = Field(default="127.0.0.1", description="address to listen on")
    port: int = Field(default=8000, ge=0, le=65535, description="port to listen on, 0 to 65535")
    allowed_hosts: str = Field(default="", description="further host names answered, comma between")

    def hosts(self) -> frozenset[str]:
        return frozenset(part.strip().lower() for part in self.allowed_hosts.split(",") if part.strip())


@dataclass(frozen=True)
class SettingInForce:
    """One setting as it may be shown: its variable, its value without secrets, where it comes from."""

    name: str
    value: str
    origin: str
    meaning: str


def read_settings(**chosen: object) -> Settings:
    """The settings in force; `chosen` (from the command line) wins over the environment.

    Raises Refusal for a value that cannot be, or when a named secret file cannot be read.
    """
    for secret in SECRETS:
        variable = f"{PREFIX}{secret.upper()}_FILE"
        place = os.environ.get(variable)
        if place and secret not in chosen:
            chosen[secret] = _secret_in(place, variable)
    try:
        found = Settings(**chosen)  # type: ignore[arg-type]  # checked by Settings itself
    except ValidationError as cause:
        first = cause.errors()[0]
        field = str(first["loc"][0])
        meaning = Settings.model_fields[field].description
        raise Refusal(f"{PREFIX}{field.upper()} cannot be “{first['input']}”. It is the {meaning}.") from None
    if found.public_url:
        try:
            scheme_and_host(found.public_url)
        except Refusal as no:
            raise Refusal(f"{PREFIX}PUBLIC_URL: {no.message}") from None
    return found


def _secret_in(place: str, variable: str) -> str:
    try:
        return Path(place).read_text(encoding="utf-8").strip()
    except OSError as cause:
        raise Refusal(f"{variable} names {place}, which cannot be read: {cause.strerror}.") from cause
    except UnicodeDecodeError:
        raise Refusal(f"{variable} names {place}, which holds no text.") from None


def settings_in_force() -> list[SettingInForce]:
    """Every setting, and every variable that looks like one and is none. Raises Refusal."""
    found = read_settings()
    rows = []
    for field, told in Settings.model_fields.items():
        name = PREFIX + field.upper()
        origin = "as it comes"
        if name in os.environ:
            origin = "from the environment"
        if field in SECRETS and f"{name}_FILE" in os.environ:
            origin = f"from {os.environ[f'{name}_FILE']}"
        value = re.sub(r"(?<=:)[^:/@]*(?=@)", "…", str(getattr(found, field)))
        rows.append(SettingInForce(name, value or "(empty)", origin, told.description or ""))
    known = {row.name for row in rows} | {f"{PREFIX}TEST_REQUIRE"}
    known |= {f"{PREFIX}{secret.upper()}_FILE" for secret in SECRETS}
    for name in sorted(set(os.environ) - known):
        if name.startswith(PREFIX):
            rows.append(SettingInForce(name, "(not shown)", "from the environment", "not a setting: is it misspelt?"))
    return rows
