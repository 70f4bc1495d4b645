"""Pictures put into an assessment's page, so small that the page can be sent to a phone."""

from __future__ import annotations

import base64
import io
from pathlib import Path

from tillercount.errors import InputError

__all__ = ["Overlay", "picture_of"]

Overlay = str | Path | tuple[str | Path, str]
"""A picture's file, or that and its caption."""

LARGEST_PX = 1000


def picture_of(overlay: Overlay) -> dict[str, str]:
    """A picture as a data address (``src``), and its caption.

    Raises
    ------
    InputError
        It can't be read.
    """
    from PIL import Image

    source, caption = overlay if isinstance(overlay, tuple) else (overlay, Path(overlay).stem)
    try:
        with Image.open(source) as image:
            image.draft("RGB", (LARGEST_PX, LARGEST_PX))
            small = image.convert("RGB")
            small.thumbnail((LARGEST_PX, LARGEST_PX))
            buffer = io.BytesIO()
            small.save(buffer, "JPEG", quality=82)
    except (OSError, ValueError) as error:
        raise InputError(
            f"{source}: this picture can't be put on the page ({error}); leave it out"
        ) from error
    data = base64.b64encode(buffer.getvalue()).decode("ascii")
    return {"src": f"data:image/jpeg;base64,{data}", "caption": caption}
