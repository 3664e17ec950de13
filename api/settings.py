"""Settings of the service, from `DRYPARK_*` variables.

The one idea: everything has a value that works on one machine, and nothing here is a secret
that must be made up beforehand.
"""

from __future__ import annotations

import ipaddress
from pathlib import Path
from typing import Annotated

from platformdirs import user_data_path
from pydantic import Field, SecretStr, field_validator
from pydantic_settings import BaseSettings, NoDecode, SettingsConfigDict

__all__ = ["LOCAL_NAMES", "Settings", "is_loopback"]

#: Names by which a browser on this very machine asks for it.
LOCAL_NAMES = ("localhost", "127.0.0.1", "[::1]", "::1")


class Settings(BaseSettings):
    """What the service is started with.

    Attributes
    ----------
    data : folder of the database and of backups (DRYPARK_DATA)
    database_url : SQLAlchemy URL; empty = SQLite in the data folder
    host, port : where it listens
    demo : the invented shop, in a folder that is thrown away
    shop : id of the shop that is served; a database may hold several
    hosts : further names by which the machine is asked for, beside those of loopback
    metrics_token : lets another machine read /metrics; empty = this machine only
    backup_days : /readyz complains about an older backup; 0 = never
    licensed : names on the shop's list for licensed practice; empty = it keeps none
    labour_per_hour, currency : the shop's prices
    """

    model_config = SettingsConfigDict(env_prefix="DRYPARK_", extra="ignore")

    data: Path = Field(default_factory=lambda: user_data_path("drypark", appauthor=False))
    database_url: str = ""
    host: str = "127.0.0.1"
    port: int = Field(default=8000, ge=0, le=65535)
    demo: bool = False
    shop: str = Field(default="shop", pattern=r"^[a-z0-9-]{1,40}$")
    hosts: Annotated[tuple[str, ...], NoDecode] = ()
    metrics_token: SecretStr = SecretStr("")
    backup_days: int = Field(default=7, ge=0)
    licensed: Annotated[tuple[str, ...], NoDecode] = ()
    labour_per_hour: float = Field(default=120.0, ge=0, le=100_000)
    currency: str = Field(default="EUR", min_length=1, max_length=8)

    @field_validator("hosts", "licensed", mode="before")
    @classmethod
    def _parted(cls, value: object) -> object:
        """Return the parts of a text such as ``one,two``."""
        if isinstance(value, str):
            return tuple(part.strip() for part in value.split(",") if part.strip())
        return value

    @property
    def url(self) -> str:
        """Return the database's URL."""
        return self.database_url or f"sqlite:///{self.data / 'drypark.sqlite'}"

    @property
    def loopback(self) -> bool:
        """Return whether only this machine can reach the service."""
        return is_loopback(self.host)


def is_loopback(host: str) -> bool:
    """Return whether a host name or address is this machine.

    Examples
    --------
    >>> is_loopback("127.0.0.1"), is_loopback("::1"), is_loopback("0.0.0.0")
    (True, True, False)
    """
    if host.lower() in LOCAL_NAMES:
        return True
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False
