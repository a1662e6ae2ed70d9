"""Pictures as they arrive: what is refused and with which words, and what is left of a file in what is shown."""

import io
import struct
import zlib
from collections.abc import Callable

import pytest
from PIL import Image, ImageFile, TiffImagePlugin
from PIL.ExifTags import GPS, IFD, Base

from planner.patients import images
from planner.patients.images import MOST_BYTES, MOST_DOTS, SHOWN_SIDE, SMALL_SIDE, arrived
from planner.trail.errors import Refused

SECRET = "Brightwater"


def photograph(size: tuple[int, int] = (120, 80), colour: str = "#c08040") -> Image.Image:
    """A red corner at the top left, so that turning shows."""
    image = Image.new("RGB", size, colour)
    image.paste("red", (0, 0, size[0] // 4, size[1] // 4))
    return image


def saved(image: Image.Image, name: str = "JPEG", **more: object) -> bytes:
    out = io.BytesIO()
    image.save(out, name, **more)
    return out.getvalue()


def with_everything(orientation: int = 1) -> bytes:
    """A telephone's JPEG: place, device, owner, comment, colour profile."""
    exif = Image.Exif()
    exif[Base.Make], exif[Base.Artist], exif[Base.Orientation] = "Camera of " + SECRET, SECRET, orientation
    exif.get_ifd(IFD.GPSInfo).update(
        {GPS.GPSLatitudeRef: "N", GPS.GPSLatitude: (51.0, 28.0, 40.0), GPS.GPSLongitudeRef: "W",
         GPS.GPSLongitude: (0.0, 0.0, 5.0)}
    )  # fmt: skip
    return saved(
        photograph(), exif=exif, comment=SECRET.encode(), icc_profile=b"a profile of " + SECRET.encode(), quality=95
    )


def opened(content: bytes) -> Image.Image:
    image = Image.open(io.BytesIO(content))
    image.load()
    return image


# ---------------------------------------------------------------- what is shown


def test_place_device_and_names_are_in_the_file_and_gone_from_what_is_shown() -> None:
    """Tags of Exif 2.32 (CIPA DC-008): GPS IFD, Make, Artist; with a JPEG comment and an ICC profile (ICC.1)."""
    original = with_everything()
    before = opened(original)
    assert before.getexif().get_ifd(IFD.GPSInfo)[GPS.GPSLatitude] == (51.0, 28.0, 40.0)
    assert SECRET.encode() in original
    made = arrived(original, lossless=False)
    for content in (made.shown, made.small):
        image = opened(content)
        assert not dict(image.getexif())
        assert not dict(image.getexif().get_ifd(IFD.GPSInfo))
        assert not {"exif", "icc_profile", "comment", "xmp", "photoshop"} & set(image.info)
        assert SECRET.encode() not in content
        assert b"Exif" not in content


def test_text_in_a_png_is_gone_too() -> None:
    from PIL.PngImagePlugin import PngInfo

    notes = PngInfo()
    notes.add_text("Patient", SECRET)
    notes.add_itxt("XML:com.adobe.xmp", f"<x>{SECRET}</x>")
    original = saved(photograph(), "PNG", pnginfo=notes, icc_profile=b"p" * 200)
    assert SECRET.encode() in original
    made = arrived(original, lossless=True)
    chunks = {made.shown[at - 4 : at] for at in range(12, len(made.shown), 1) if made.shown[at - 4 : at].isalpha()}
    assert not {b"tEXt", b"iTXt", b"zTXt", b"iCCP", b"eXIf"} & chunks
    assert SECRET.encode() not in made.shown + made.small


@pytest.mark.parametrize(
    ("orientation", "corner"), [(1, "top left"), (3, "bottom right"), (6, "top right"), (8, "bottom left")]
)
def test_a_picture_taken_sideways_stands_upright(orientation: int, corner: str) -> None:
    """Orientation as Exif 2.32 numbers it: 6 means that the dots must be turned a quarter to the right."""
    made = arrived(with_everything(orientation), lossless=True)
    image = opened(made.shown)
    assert image.size == ((120, 80) if orientation in (1, 3) else (80, 120)) == (made.width, made.height)
    ends = {"left": 5, "right": image.width - 6, "top": 5, "bottom": image.height - 6}
    down, across = corner.split()
    red, green, _blue = image.getpixel((ends[across], ends[down]))  # type: ignore[misc]
    assert red > 200
    assert green < 60


def test_an_x_ray_loses_no_dot_of_its_eight_bits() -> None:
    film = Image.frombytes("L", (64, 48), bytes(range(256)) * 12)
    made = arrived(saved(film, "PNG"), lossless=True)
    assert made.shown_type == "image/png"
    assert opened(made.shown).tobytes() == film.tobytes()


def test_sixteen_bits_of_an_x_ray_keep_their_order_in_eight() -> None:
    """A sensor of 12 bits in a file of 16 would be nearly black if only cut to eight."""
    film = Image.frombytes("I;16", (64, 64), struct.pack("<4096H", *range(4096)))
    shown = opened(arrived(saved(film, "TIFF"), lossless=True).shown)
    dots = list(shown.tobytes())
    assert dots == sorted(dots)
    assert (dots[0], dots[-1]) == (0, 255)


def test_large_pictures_are_shown_smaller_and_keep_their_proportion() -> None:
    made = arrived(saved(Image.new("L", (4000, 1000), 90), "PNG"), lossless=True)
    assert (made.width, made.height) == (4000, 1000)
    assert opened(made.shown).size == (SHOWN_SIDE, SHOWN_SIDE // 4)
    assert opened(made.small).size == (SMALL_SIDE, SMALL_SIDE // 4)


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGB", "RGBA", "CMYK", "I;16", "F"])
def test_every_kind_of_dots_becomes_one_that_browsers_show(mode: str) -> None:
    source = Image.new("L", (64, 64), 255) if mode in ("I;16", "F") else photograph((64, 64))
    content = saved(source.convert(mode), "TIFF")
    shown = opened(arrived(content, lossless=False).shown)
    assert shown.mode in ("L", "RGB")
    assert shown.format == "JPEG"


def test_what_is_see_through_lies_on_white() -> None:
    shown = opened(arrived(saved(Image.new("RGBA", (64, 64), (9, 9, 9, 0)), "PNG"), lossless=True).shown)
    assert shown.getpixel((5, 5)) == (255, 255, 255)


# ---------------------------------------------------------------- what is refused


def png_that_claims(width: int, height: int) -> bytes:
    """A few bytes that would be decoded into gigabytes (PNG, ISO/IEC 15948: IHDR holds the size)."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    header = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(b"\0" * 1000))
        + chunk(b"IEND", b"")
    )


def animated() -> bytes:
    frames = [Image.new("RGB", (64, 64), colour) for colour in ("red", "blue")]
    return saved(frames[0], "PNG", save_all=True, append_images=frames[1:])


def several_pages() -> bytes:
    out = io.BytesIO()
    with TiffImagePlugin.AppendingTiffWriter(out, True) as pages:
        for _page in range(2):
            photograph().save(pages, "TIFF")
            pages.newFrame()
    return out.getvalue()


DAMAGED = "damaged or cut off"
REFUSED: dict[str, tuple[Callable[[], bytes], str]] = {
    "empty": (lambda: b"", "is empty"),
    "too many bytes": (lambda: b"\xff\xd8\xff" + b"0" * MOST_BYTES, "at most 30 MB"),
    "too many dots": (lambda: png_that_claims(8000, 6000), "more than 40 million dots"),
    "a bomb": (lambda: png_that_claims(60000, 60000), "more than 40 million dots"),
    "too few dots": (lambda: saved(photograph((20, 400))), "a side of less than 32"),
    "cut off, JPEG": (lambda: saved(photograph((800, 600)))[:-4000], DAMAGED),
    "cut off, PNG": (lambda: saved(Image.effect_noise((300, 300), 90), "PNG")[:-20000], DAMAGED),
    "spoiled": (lambda: png_that_claims(300, 300), DAMAGED),
    "moving PNG": (animated, "several pictures or moves"),
    "TIFF of several pages": (several_pages, "several pictures or moves"),
    "GIF": (lambda: saved(photograph(), "GIF"), "GIF and WebP are not taken"),
    "WebP": (lambda: saved(photograph(), "WEBP"), "GIF and WebP are not taken"),
    "BMP": (lambda: saved(photograph(), "BMP"), "JPEG, PNG or TIFF are taken"),
    "SVG": (lambda: b"\xef\xbb\xbf <svg><script>alert(1)</script></svg>", "SVG, HTML or XML"),
    "SVG after a declaration": (lambda: b'<?xml version="1.0"?><svg/>', "SVG, HTML or XML"),
    "HTML": (lambda: b"<!DOCTYPE html><script>alert(1)</script>", "SVG, HTML or XML"),
    "PDF": (lambda: b"%PDF-1.7\n%\xe2\xe3", "a PDF, not a picture"),
    "DICOM": (lambda: b"\0" * 128 + b"DICM" + b"\x02\0\0\0UL\x04\0", "export the picture as PNG or TIFF"),
    "HEIC": (lambda: b"\0\0\0\x18ftypheic\0\0\0\0mif1heic", "Set the camera to JPEG"),
    "words": (lambda: b"not a picture at all", "JPEG, PNG or TIFF are taken"),
    "a program": (lambda: b"MZ\x90\0" + b"\0" * 200, "JPEG, PNG or TIFF are taken"),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_no_whole_picture_is_refused_with_a_sentence(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    make, words = REFUSED[name]
    # As the library that draws papers leaves it for the whole process.
    monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", True)
    with pytest.raises(Refused, match=words) as refusal:
        arrived(make(), lossless=False)
    assert refusal.value.field == "file"
    assert refusal.value.sentence.endswith(".")


def test_a_bomb_is_refused_by_its_header_and_never_decoded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(images, "_eight_bits", lambda image: pytest.fail("decoded"))
    with pytest.raises(Refused, match="million dots"):
        arrived(png_that_claims(MOST_DOTS // 100 + 1, 100), lossless=True)


def test_a_name_proves_nothing_and_a_jpeg_with_a_page_behind_it_is_shown_as_dots_only() -> None:
    """A file that is a picture and, read otherwise, a page: what is shown is made from its dots."""
    original = saved(photograph()) + b"<html><script>alert(1)</script></html>"
    made = arrived(original, lossless=False)
    assert b"<script" not in made.shown + made.small
