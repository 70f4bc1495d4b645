"""The model bundle: one safetensors file that carries weights and all that using them needs.

Weights are stored in half precision under ``network.``; other tensors (novelty) in single
precision under ``extra.``. Everything else is JSON text in the file's metadata. Nothing in it is
ever unpickled. A list of SHA-256 sums (``SHA256SUMS``, in the layout that ``sha256sum`` writes)
lies beside shipped models and is checked before a file is used.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tillercount.errors import InputError

if TYPE_CHECKING:
    from torch import Tensor

__all__ = [
    "DEFAULT_MODEL",
    "MANIFEST",
    "SCHEMA",
    "Bundle",
    "model_path",
    "read_bundle",
    "read_info",
    "write_bundle",
    "write_manifest",
]

SCHEMA = "tillercount.model/1"
DEFAULT_MODEL = "counter"
MANIFEST = "SHA256SUMS"
_SUFFIX = ".safetensors"
_LARGEST_BYTES = 200_000_000
_REMEDY = "install tillercount again, or name another model"


@dataclass(frozen=True)
class Bundle:
    """A model read from disk: ``info`` (metadata), ``weights``, ``extra`` tensors, its SHA-256."""

    path: Path
    sha256: str
    info: dict[str, Any]
    weights: dict[str, Tensor]
    extra: dict[str, Tensor]


def _folders() -> list[Path]:
    """Where shipped models may lie: in the installed package, or in the checkout."""
    folders = []
    with contextlib.suppress(ModuleNotFoundError):
        folders.append(Path(str(resources.files("tillercount._models"))))
    folders.append(Path(__file__).resolve().parents[2] / "models")
    return folders


def model_path(name_or_path: str | Path | None = None) -> Path:
    """File of a shipped model by its name, or of any model by its path.

    Raises
    ------
    InputError
        There is no such model.
    """
    wanted = DEFAULT_MODEL if name_or_path is None else name_or_path
    text = str(wanted)
    if text.endswith(_SUFFIX) or "/" in text or "\\" in text:
        path = Path(wanted)
        if path.is_dir():
            path = path / f"{DEFAULT_MODEL}{_SUFFIX}"
        if not path.is_file():
            raise InputError(f"model {text}: there is no such file; give a {_SUFFIX} file")
        return path
    for folder in _folders():
        path = folder / f"{text}{_SUFFIX}"
        if path.is_file():
            return path
    known = sorted({p.stem for folder in _folders() for p in folder.glob(f"*{_SUFFIX}")})
    choice = f"one of {', '.join(known)}" if known else "a path, since no model is installed"
    raise InputError(f"model {text!r} isn't known; use {choice}")


def write_bundle(
    path: Path,
    weights: Mapping[str, Tensor],
    info: Mapping[str, Any],
    extra: Mapping[str, Tensor] | None = None,
) -> str:
    """Write a bundle in one go (never half a file); returns its SHA-256."""
    import torch
    from safetensors.torch import save

    tensors: dict[str, Tensor] = {}
    for name, value in weights.items():
        if not value.dtype.is_floating_point:
            continue  # counters of batches; prediction doesn't use them
        # Statistics of normalisation can be smaller than half precision holds.
        kind = torch.float32 if "running_" in name else torch.float16
        tensors[f"network.{name}"] = value.detach().cpu().to(kind).contiguous()
    for name, value in (extra or {}).items():
        tensors[f"extra.{name}"] = value.detach().cpu().float().contiguous()
    whole = {**info, "schema": SCHEMA, "content_sha256": _content_hash(tensors)}
    data = save(tensors, metadata={"tillercount": json.dumps(whole, sort_keys=True)})
    path.parent.mkdir(parents=True, exist_ok=True)
    temporary = path.with_suffix(".part")
    temporary.write_bytes(data)
    temporary.replace(path)
    return hashlib.sha256(data).hexdigest()


def read_bundle(path: Path) -> Bundle:
    """Read and check a bundle.

    Raises
    ------
    InputError
        Unreadable, not a tillercount model, or its content isn't what was written.
    """
    data = _read(path)
    digest = hashlib.sha256(data).hexdigest()
    _check_manifest(path, digest)
    info = _info(path, data)
    from safetensors import SafetensorError
    from safetensors.torch import load

    try:
        tensors = load(data)
    except (SafetensorError, ValueError, RuntimeError) as error:
        raise InputError(f"model {path}: weights can't be read ({error}); {_REMEDY}") from error
    if _content_hash(tensors) != info.get("content_sha256"):
        raise InputError(f"model {path}: weights were changed after training; {_REMEDY}")
    return Bundle(
        path=path,
        sha256=digest,
        info=info,
        weights=_under(tensors, "network."),
        extra=_under(tensors, "extra."),
    )


def read_info(path: Path) -> dict[str, Any]:
    """Metadata of a bundle, without torch.

    Raises
    ------
    InputError
        As `read_bundle`.
    """
    return _info(path, _read(path))


def write_manifest(folder: Path) -> Path:
    """Write the sums of every model in ``folder`` beside them."""
    lines = [
        f"{hashlib.sha256(path.read_bytes()).hexdigest()}  {path.name}\n"
        for path in sorted(folder.glob(f"*{_SUFFIX}"))
    ]
    out = folder / MANIFEST
    out.write_text("".join(lines), encoding="utf-8")
    return out


def _read(path: Path) -> bytes:
    try:
        size = path.stat().st_size
        if size > _LARGEST_BYTES:
            raise InputError(f"model {path}: {size / 1e6:.0f} MB is too large; {_REMEDY}")
        return path.read_bytes()
    except OSError as error:
        raise InputError(f"model {path}: can't be read ({error.strerror}); {_REMEDY}") from error


def _check_manifest(path: Path, digest: str) -> None:
    manifest = path.parent / MANIFEST
    if not manifest.is_file():
        return
    for line in manifest.read_text("utf-8").splitlines():
        wanted, _, name = line.partition("  ")
        if name == path.name and wanted != digest:
            raise InputError(
                f"model {path}: its SHA-256 isn't the one in {manifest.name}, "
                f"so the file is damaged or was changed; {_REMEDY}"
            )


def _info(path: Path, data: bytes) -> dict[str, Any]:
    """Metadata out of the header: 8 bytes of length, then JSON (the safetensors format)."""
    length = int.from_bytes(data[:8], "little") if len(data) >= 8 else -1
    if not 2 <= length <= min(len(data) - 8, 50_000_000):
        raise InputError(f"model {path}: not a safetensors file, or cut short; {_REMEDY}")
    try:
        header = json.loads(data[8 : 8 + length])
        info = json.loads(header["__metadata__"]["tillercount"])
    except (ValueError, KeyError, TypeError) as error:
        raise InputError(
            f"model {path}: its header isn't that of a tillercount model; {_REMEDY}"
        ) from error
    if not isinstance(info, dict) or info.get("schema") != SCHEMA:
        raise InputError(
            f"model {path}: made for another version of tillercount "
            f"(this one reads {SCHEMA}); {_REMEDY}"
        )
    return info


def _content_hash(tensors: Mapping[str, Tensor]) -> str:
    digest = hashlib.sha256()
    for name in sorted(tensors):
        value = tensors[name]
        digest.update(f"{name}:{value.dtype}:{tuple(value.shape)};".encode())
        digest.update(value.contiguous().numpy().tobytes())
    return digest.hexdigest()


def _under(tensors: Mapping[str, Tensor], prefix: str) -> dict[str, Tensor]:
    return {
        name.removeprefix(prefix): value.float()
        for name, value in tensors.items()
        if name.startswith(prefix)
    }
