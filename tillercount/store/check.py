"""Is a season whole? The file itself, what refers to what, photos on the disk."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from sqlalchemy import Engine, func, select

from tillercount.fingerprint import file_sha256
from tillercount.names import first_few
from tillercount.store.engine import reading, shown, sqlite_file
from tillercount.store.migrate import schema_of
from tillercount.store.tables import SCHEMA, photos, placements, predictions

__all__ = ["Finding", "check_season"]


@dataclass(frozen=True)
class Finding:
    """One thing looked at: ``ok``, ``mind`` (worth knowing) or ``bad``."""

    level: Literal["ok", "mind", "bad"]
    text: str


def check_season(engine: Engine, *, photos_in: Path | None = None) -> list[Finding]:
    """Look a season over.

    Parameters
    ----------
    engine : Engine
    photos_in : Path, optional
        Where photos given by relative paths lie; photos are then compared with their hashes.
    """
    found = [Finding("ok", f"{shown(engine.url)}: layout {schema_of(engine)} of {SCHEMA}")]
    file = sqlite_file(engine.url)
    if file is not None:
        found += _file(engine)
    with reading(engine) as connection:
        bare = connection.scalar(
            select(func.count())
            .select_from(photos)
            .outerjoin(predictions, predictions.c.photo_id == photos.c.id)
            .where(predictions.c.id.is_(None))
        )
        loose = connection.scalar(
            select(func.count())
            .select_from(placements)
            .where(placements.c.ended_id.is_(None), placements.c.spot_id.is_(None))
        )
    if bare:
        many = f"{bare} photo{'s' * (bare != 1)}"
        found.append(Finding("bad", f"{many} without a count; add the counts again"))
    if loose:
        found.append(
            Finding(
                "mind",
                f"{loose} photo{'s' * (loose != 1)} at no spot, so in no mean; season assign "
                f"places {'it' if loose == 1 else 'them'}",
            )
        )
    if photos_in is not None:
        found += _photos(engine, photos_in)
    return found


def _file(engine: Engine) -> list[Finding]:
    with reading(engine) as connection:
        said = [row[0] for row in connection.exec_driver_sql("PRAGMA integrity_check(10)")]
        loose = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
        journal = connection.exec_driver_sql("PRAGMA journal_mode").scalar()
        sync = connection.exec_driver_sql("PRAGMA synchronous").scalar()
    found = []
    if said == ["ok"]:
        found.append(Finding("ok", "the file is whole"))
    else:
        text = f"the file is damaged ({'; '.join(map(str, said[:2]))}); go back to your last copy"
        found.append(Finding("bad", text))
    if loose:
        text = f"{len(loose)} rows refer to rows that aren't there; go back to your last copy"
        found.append(Finding("bad", text))
    if sync != 2:
        found.append(Finding("bad", "changes aren't forced to the disk; report this"))
    elif journal != "wal":
        text = f"no write-ahead log in this folder ({journal} instead): as safe, but slower"
        found.append(Finding("mind", text))
    else:
        found.append(Finding("ok", "changes are on the disk before they are acknowledged"))
    return found


def _photos(engine: Engine, folder: Path) -> list[Finding]:
    missing: list[str] = []
    changed: list[str] = []
    whole = 0
    with reading(engine) as connection:
        rows = connection.execute(
            select(photos.c.path, photos.c.sha256).order_by(photos.c.id),
            execution_options={"yield_per": 500},
        )
        for row in rows:
            sha256 = file_sha256(folder / row.path)
            if not sha256:
                missing.append(row.path)
            elif sha256 != row.sha256:
                changed.append(row.path)
            else:
                whole += 1
    found = [Finding("ok", f"{whole} photos are as they were when they were added")]
    if changed:
        text = f"other pictures under the names of {len(changed)} photos"
        found.append(Finding("bad", f"{text}: {first_few(changed)}; look for the originals"))
    if missing:
        text = f"{len(missing)} photos aren't where they were: {first_few(missing)}"
        found.append(Finding("mind", f"{text}; give their folder with --photos"))
    return found
