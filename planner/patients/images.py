"""Photographs and X-rays as they arrive: what they are is decided by decoding them, never by their name.

The original stays as it came, for whoever has to prove what was taken. What is shown is a new picture made from its
dots alone: turned upright, one brightness or three colours of eight bits, and nothing else that came in the file, such
as the place and the device. Nothing here knows Django's database or a patient.
"""

import io
import threading
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from PIL import Image, ImageFile, ImageMath, ImageOps, UnidentifiedImageError

from planner.trail.errors import Refused

MOST_BYTES = 30 * 1024 * 1024
"""A full-size X-ray or photograph is smaller (common practice, no source)."""
MOST_DOTS = 40_000_000
"""Dots that a picture may have: 120 MB when decoded, which the smallest server holds twice."""
LEAST_SIDE = 32
SHOWN_SIDE = 3000
"""Longest side of what is shown: more than a screen has, and finer than an X-ray sensor's own lines."""
SMALL_SIDE = 320
"""Longest side of the small one: enough to tell pictures apart, too little to read a finding."""
FORMATS = ("JPEG", "PNG", "TIFF")
FILE_FORMATS = "JPEG, PNG or TIFF"
_QUALITY = 92
_DECODING = threading.Lock()


@dataclass(frozen=True, slots=True)
class Arrived:
    """A picture that may be kept: what it is, and the two pictures made of it."""

    format: str
    width: int
    height: int
    """Upright, in dots."""
    shown: bytes
    small: bytes
    shown_type: str
    """Media type of both."""


def arrived(content: bytes, *, lossless: bool) -> Arrived:
    """Decode ``content`` and make the pictures that are shown, without loss for an X-ray.

    Raises Refused with a sentence for anything that is not one whole picture in a format and size that is taken.
    """
    if not content:
        raise _refused("The file is empty: choose the picture again.")
    if len(content) > MOST_BYTES:
        raise _refused(
            f"The file has {len(content) / 1024 / 1024:.0f} MB; at most {MOST_BYTES // 1024 // 1024} MB are taken. "
            "Export it smaller."
        )
    _refuse_other_files(content)
    try:
        with _whole_pictures_only(), warnings.catch_warnings():
            warnings.simplefilter("ignore")  # odd tags of an X-ray program are no fault of the picture
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(content), formats=FORMATS) as image:
                return _made(image, lossless)
    except UnidentifiedImageError:
        raise _refused(f"This is no picture that can be read: {FILE_FORMATS} are taken.") from None
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise _refused(_too_many_dots()) from None
    except Refused:
        raise
    except Exception:  # a decoder may raise anything at all on a spoiled file
        raise _refused("The picture is damaged or cut off: it cannot be read to its end. Export it again.") from None


@contextmanager
def _whole_pictures_only() -> Iterator[None]:
    """A picture that ends too early is an error meanwhile, although the library that draws papers allows it for all."""
    with _DECODING:
        before, ImageFile.LOAD_TRUNCATED_IMAGES = ImageFile.LOAD_TRUNCATED_IMAGES, False
        try:
            yield
        finally:
            ImageFile.LOAD_TRUNCATED_IMAGES = before


def _made(image: Image.Image, lossless: bool) -> Arrived:
    if min(image.size) < LEAST_SIDE:
        raise _refused(
            f"The picture has {image.width} by {image.height} dots: a side of less than {LEAST_SIDE} shows nothing."
        )
    if image.width * image.height > MOST_DOTS:
        raise _refused(_too_many_dots())
    # A telephone's JPEG may hold a preview as a second picture; that is no film.
    if getattr(image, "n_frames", 1) > 1 and image.format != "MPO":
        raise _refused("The file holds several pictures or moves: export the one picture that was read.")
    name = "JPEG" if image.format == "MPO" else str(image.format)
    image.load()
    upright = _eight_bits(ImageOps.exif_transpose(image))
    width, height = upright.size
    upright.thumbnail((SHOWN_SIDE, SHOWN_SIDE), Image.Resampling.LANCZOS)
    # A new picture of the same dots: whatever else the file carried stays behind.
    bare = Image.new(upright.mode, upright.size)
    bare.paste(upright)
    small = bare.copy()
    small.thumbnail((SMALL_SIDE, SMALL_SIDE), Image.Resampling.LANCZOS)
    return Arrived(
        name,
        width,
        height,
        _encoded(bare, lossless),
        _encoded(small, lossless),
        "image/png" if lossless else "image/jpeg",
    )


def _eight_bits(image: Image.Image) -> Image.Image:
    """``image`` in one brightness or three colours; on white where it is see-through."""
    if image.mode in ("L", "RGB"):
        return image
    if image.mode.startswith(("I", "F")):
        return _stretched(image)
    if image.mode in ("1", "CMYK", "YCbCr", "LAB", "HSV"):
        return image.convert("L" if image.mode == "1" else "RGB")
    with_alpha = image.convert("RGBA")
    paper = Image.new("RGBA", image.size, "white")
    flat = Image.alpha_composite(paper, with_alpha)
    return flat.convert("L" if image.mode == "LA" else "RGB")


def _stretched(image: Image.Image) -> Image.Image:
    """Twelve or sixteen bits of an X-ray in eight: the darkest dot black, the brightest white."""
    wide = image.convert("F")
    low, high = wide.getextrema()
    if not isinstance(low, float) or not isinstance(high, float) or high <= low:
        return Image.new("L", image.size)
    scaled: Image.Image = ImageMath.lambda_eval(lambda args: (args["dots"] - low) * (255 / (high - low)), dots=wide)
    return scaled.convert("L")


def _encoded(image: Image.Image, lossless: bool) -> bytes:
    out = io.BytesIO()
    if lossless:
        image.save(out, "PNG")
    else:
        image.save(out, "JPEG", quality=_QUALITY)
    return out.getvalue()


def _refuse_other_files(content: bytes) -> None:
    """Say of files that are often taken for pictures what to do instead."""
    start = content[:1024].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    for is_it, sentence in _OTHERS:
        if is_it(content, start):
            raise _refused(sentence)


_Is = Callable[[bytes, bytes], bool]
_OTHERS: tuple[tuple[_Is, str], ...] = (
    (
        lambda content, _start: content[128:132] == b"DICM",
        "This is a DICOM file, which carries the person's name inside. In the X-ray program, export the picture as "
        "PNG or TIFF in full size, without names on it, and take that.",
    ),
    (
        lambda _content, start: start.startswith(b"%pdf"),
        "This is a PDF, not a picture. Export or scan the picture itself as PNG or JPEG.",
    ),
    (
        lambda _content, start: b"<svg" in start or start.startswith((b"<?xml", b"<!doctype", b"<html")),
        f"This is a page or drawing made of text (SVG, HTML or XML), not a photograph: {FILE_FORMATS} are taken.",
    ),
    (
        lambda content, _start: content[4:12] in (b"ftypheic", b"ftypheix", b"ftypmif1", b"ftypmsf1", b"ftypavif"),
        "This is a HEIC or AVIF file of a telephone. Set the camera to JPEG, or export the picture as JPEG.",
    ),
    (
        lambda content, _start: content[:6] in (b"GIF87a", b"GIF89a") or content[:4] == b"RIFF",
        f"GIF and WebP are not taken, because they may move: {FILE_FORMATS} are.",
    ),
)


def _too_many_dots() -> str:
    return f"The picture has more than {MOST_DOTS // 1_000_000} million dots. Export it smaller."


def _refused(sentence: str) -> Refused:
    return Refused(sentence, field="file")
