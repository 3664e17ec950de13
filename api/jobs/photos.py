"""Photos: made small, and without what they say about place and device.

The one idea: what is kept is a new picture. The pixels are read, turned the right way up, made
small and written out again as JPEG; nothing else of the file that came survives, so no position,
no serial number and no hidden part does.
"""

from __future__ import annotations

import io
import threading
import warnings
from typing import Final

from PIL import Image, ImageOps, UnidentifiedImageError

from api.problems import ProblemError

__all__ = ["LONGEST_SIDE", "MOST_PIXELS", "small_jpeg"]

LONGEST_SIDE: Final = 1600
#: A picture of more pixels is not unpacked: a file of a few kB can hold gigabytes of them.
MOST_PIXELS: Final = 60_000_000
_KINDS: Final = ("JPEG", "PNG", "WEBP")
#: Each picture takes up to 240 MB while it is unpacked.
_AT_ONCE = threading.BoundedSemaphore(1)


def small_jpeg(data: bytes) -> bytes:
    """Return a photo as JPEG of at most `LONGEST_SIDE` pixels a side, without its metadata.

    Parameters
    ----------
    data : the file as it came: JPEG, PNG or WebP

    Raises
    ------
    ProblemError
        415 for another kind, 413 for too many pixels, 422 for a broken file.
    """
    with _AT_ONCE, warnings.catch_warnings():
        warnings.simplefilter("ignore", Image.DecompressionBombWarning)
        try:
            with Image.open(io.BytesIO(data), formats=_KINDS) as picture:
                return _remade(picture)
        except UnidentifiedImageError:
            raise ProblemError(
                415,
                "this is no JPEG, PNG or WebP picture (a HEIC picture is none either); nothing was "
                "stored; set the camera to JPEG, or send a screenshot of it",
            ) from None
        except (Image.DecompressionBombError, OSError, ValueError, SyntaxError):
            raise ProblemError(
                422, "this picture is broken; nothing was stored; take it again"
            ) from None


def _remade(picture: Image.Image) -> bytes:
    """Return a picture written anew."""
    width, height = picture.size
    if width * height > MOST_PIXELS:
        raise ProblemError(
            413,
            f"this picture has {width} x {height} pixels, more than {MOST_PIXELS // 1_000_000} "
            "million; nothing was stored; send a smaller one",
        )
    picture.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
    upright = ImageOps.exif_transpose(picture)
    upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    plain = Image.new("RGB", upright.size, "white")
    if upright.mode in ("RGBA", "LA", "PA") or "transparency" in upright.info:
        upright = upright.convert("RGBA")
        plain.paste(upright, mask=upright.getchannel("A"))
    else:
        plain.paste(upright.convert("RGB"))
    out = io.BytesIO()
    plain.save(out, "JPEG", quality=82, optimize=True)
    return out.getvalue()
