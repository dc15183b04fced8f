"""Pictures made of dots: from the bytes of an image file to grey values."""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from PIL import ExifTags, Image, ImageOps, UnidentifiedImageError

from kerfwright.drawing.model import Picture
from kerfwright.errors import KerfwrightError
from kerfwright.geometry.affine import Affine

DOTS_LIMIT = 80_000_000
"""Dots of the largest picture that is opened: an A2 sheet at 400 dots to the inch."""

FORMATS = ("PNG", "JPEG", "BMP", "GIF", "TIFF", "WEBP")
"""What is opened; the imaging library knows more, some of which run other programs."""

_MM_PER_INCH = 25.4

_TURNED = frozenset((5, 6, 7, 8))
"""Exif orientations (Exif 2.32, tag 274) that make rows into columns."""

Grey = npt.NDArray[np.uint8]


@dataclass(frozen=True, eq=False, slots=True)
class Decoded:
    """A picture file's dots: ``grey`` as in :class:`Picture`, what it says of its size, frames.

    ``dots_per_inch`` is along rows and along columns, ``None`` where the file says nothing.
    ``frames`` counts the frames or pages of the file, of which the first is taken. ``alpha`` is
    as in :class:`Picture`.
    """

    grey: Grey
    dots_per_inch: tuple[float, float] | None
    frames: int
    alpha: Grey | None = None

    @property
    def size_mm(self) -> tuple[float, float] | None:
        """Width and height as the file states them."""
        if self.dots_per_inch is None:
            return None
        rows, columns = self.grey.shape
        along_rows, along_columns = self.dots_per_inch
        return columns / along_rows * _MM_PER_INCH, rows / along_columns * _MM_PER_INCH


def picture_from_bytes(
    data: bytes, *, name: str, to_mm: Affine, file: str, layer: str = "", line: int | None = None
) -> Picture:
    """Make a picture of an image file's bytes, placed by ``to_mm`` (see :class:`Picture`).

    ``file`` names the file for errors; raises as :func:`decoded`.
    """
    dots = decoded(data, file=file)
    return Picture(name, dots.grey, to_mm, layer, line, dots.alpha)


def decoded(data: bytes, *, file: str) -> Decoded:
    """Decode the first frame of a PNG, JPEG, BMP, GIF, TIFF or WebP file to grey.

    Grey is luma as ITU-R Recommendation BT.601 weighs red, green and blue. Transparency is laid
    over white, and a camera's orientation is followed.

    Raises:
        KerfwrightError: the bytes are no such picture, are damaged, or hold more than
            :data:`DOTS_LIMIT` dots.
    """
    try:
        with warnings.catch_warnings():
            # the library's own remarks on odd files; what matters raises
            warnings.simplefilter("ignore")
            with Image.open(io.BytesIO(data), formats=FORMATS) as image:
                if image.width * image.height > DOTS_LIMIT:
                    raise _too_large(file, f"{image.width} × {image.height} dots")
                frames = int(getattr(image, "n_frames", 1))
                dots = _dots_per_inch(image)
                turned = image.getexif().get(ExifTags.Base.Orientation, 1) in _TURNED
                upright = ImageOps.exif_transpose(image)
                grey, alpha = grey_of(upright), alpha_of(upright)
    except KerfwrightError:
        raise
    except Image.DecompressionBombError:
        raise _too_large(file, "far too many dots") from None
    except Exception as fault:  # damaged files make the library raise nearly anything
        raise KerfwrightError(
            "drawing/picture-damaged",
            file=file,
            thing=f"The picture cannot be read ({_reason(fault)}).",
            remedy="Open it in an image program and save it again as PNG.",
        ) from None
    if dots is not None and turned:
        dots = (dots[1], dots[0])
    return Decoded(grey, dots, frames, alpha)


def grey_of(image: Image.Image) -> Grey:
    """Grey values 0 to 255 of an image of any mode, transparency laid over white."""
    if image.mode in {"I", "I;16", "I;16B", "I;16L", "F"}:
        return _from_deep(np.asarray(image, dtype=np.float64), image.mode)
    if image.has_transparency_data:
        # not through alpha_composite: its roundings differ from mode to mode
        grey, alpha = (np.asarray(part, dtype=np.uint16) for part in _grey_and_alpha(image))
        return ((grey * alpha + 255 * (255 - alpha) + 127) // 255).astype(np.uint8)
    if image.mode not in {"1", "L", "P", "RGB"}:
        image = image.convert("RGB")
    return np.array(image.convert("L"), dtype=np.uint8)


def alpha_of(image: Image.Image) -> Grey | None:
    """Opacity of every dot, ``None`` if all are opaque."""
    if not image.has_transparency_data:
        return None
    alpha = np.array(image.convert("RGBA").getchannel("A"), dtype=np.uint8)
    return None if bool((alpha == 255).all()) else alpha


def _grey_and_alpha(image: Image.Image) -> tuple[Image.Image, Image.Image]:
    whole = image.convert("RGBA")
    return whole.convert("RGB").convert("L"), whole.getchannel("A")


def _from_deep(values: npt.NDArray[np.float64], mode: str) -> Grey:
    """Grey of a picture of 16 or 32 bits a dot; real numbers up to 1 are shares of white."""
    finite = np.nan_to_num(values, nan=255.0, posinf=255.0, neginf=0.0)
    highest = float(finite.max())
    if mode == "F":
        whole = 1.0 if highest <= 1.0 else 255.0
    else:
        whole = 255.0 if mode == "I" and highest <= 255.0 else 65535.0
    return np.clip(np.rint(finite * (255.0 / whole)), 0, 255).astype(np.uint8)


def _dots_per_inch(image: Image.Image) -> tuple[float, float] | None:
    stated = image.info.get("dpi")
    try:
        along_rows, along_columns = (float(dots) for dots in stated or ())
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    # 0 and 1 are what formats write for "not known"
    if not (1.0 < along_rows < 1e5 and 1.0 < along_columns < 1e5):
        return None
    return along_rows, along_columns


def _too_large(file: str, size: str) -> KerfwrightError:
    return KerfwrightError(
        "drawing/picture-too-large",
        file=file,
        thing=f"The picture has {size}; more than {DOTS_LIMIT // 1_000_000} million are not read.",
        remedy="Make it smaller in an image program: 20 dots to the mm are plenty for a beam.",
    )


def _reason(fault: Exception) -> str:
    if isinstance(fault, UnidentifiedImageError):
        return "it is no PNG, JPEG, BMP, GIF, TIFF or WebP picture"
    return " ".join(str(fault).split())[:120] or "its data makes no sense"
