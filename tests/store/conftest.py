"""A fresh season for each test: in a file, and on a PostgreSQL server where one is given.

``TILLERCOUNT_TEST_POSTGRES`` names the server (postgresql+psycopg://user@host/db); each test makes
a schema of its own there and drops it.
"""

from __future__ import annotations

import os
import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import create_engine, make_url

from tests.cli.helpers import StandIn
from tillercount.store import Season
from tillercount.store.engine import place_of

SERVER = "TILLERCOUNT_TEST_POSTGRES"


@pytest.fixture(params=["file", "server"])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Where to make a season."""
    if request.param == "file":
        yield str(tmp_path / "season.sqlite")
        return
    if not os.environ.get(SERVER):
        pytest.skip(f"no PostgreSQL server given in {SERVER}")
    url = place_of(os.environ[SERVER])
    name = f"t{uuid.uuid4().hex[:12]}"
    admin = create_engine(url, isolation_level="AUTOCOMMIT")
    with admin.connect() as connection:
        connection.exec_driver_sql(f"CREATE SCHEMA {name}")
    options = {"options": f"-csearch_path={name}"}
    yield make_url(url).update_query_dict(options).render_as_string(hide_password=False)
    with admin.connect() as connection:
        connection.exec_driver_sql(f"DROP SCHEMA {name} CASCADE")
    admin.dispose()


@pytest.fixture
def season(place: str) -> Iterator[Season]:
    with Season.create(place, who="Ash") as made:
        yield made


@pytest.fixture
def file_season(tmp_path: Path) -> Iterator[Season]:
    with Season.create(tmp_path / "season.sqlite", who="Ash") as made:
        yield made


@pytest.fixture
def stand_in(monkeypatch: pytest.MonkeyPatch) -> StandIn:
    return StandIn.in_place(monkeypatch)
