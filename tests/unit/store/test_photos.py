"""Pictures are kept, and where they were taken is not."""

from __future__ import annotations

import hashlib
import struct
import zlib

import pytest

from soakbook.errors import InputError
from soakbook.store import NewEntry, Store
from soakbook.store.photos import MAX_BYTES
from soakbook.store.pictures import clean_jpeg, clean_png, clean_webp, cleaned

SECRET = b"52.1N 5.18E"


def segment(marker: int, content: bytes) -> bytes:
    return bytes([0xFF, marker]) + struct.pack(">H", len(content) + 2) + content


def exif(turned: int, order: str = "<") -> bytes:
    """An Exif block of a camera: a maker, the orientation, a pointer to a position."""
    head = b"II*\0" if order == "<" else b"MM\0*"
    rows = [(0x010F, 2, len(SECRET), 100), (0x0112, 3, 1, turned), (0x8825, 4, 1, 60)]
    body = struct.pack(f"{order}IH", 8, len(rows))
    for tag, kind, count, value in rows:
        packed = struct.pack(f"{order}H", value) + b"\0\0" if kind == 3 else struct.pack(f"{order}I", value)
        body += struct.pack(f"{order}HHI", tag, kind, count) + packed
    return b"Exif\0\0" + head + body + b"\0" * 60 + SECRET


# Not a picture anybody could look at, but built of segments as ITU-T T.81 annex B wants them.
JFIF = segment(0xE0, b"JFIF\0\1\1\0\0\1\0\1\0\0")
TABLES = segment(0xDB, bytes(65)) + segment(0xC0, b"\x08\0\1\0\1\1\1\x11\0") + segment(0xC4, bytes(20))
SCAN = segment(0xDA, b"\1\1\0\0\x3f\0") + b"\x12\xff\x00\x34\xff\xd0\x56\xff\x00"
ICC = segment(0xE2, b"ICC_PROFILE\0\1\1colours")
END = b"\xff\xd9"


def jpeg(*extra: bytes, behind: bytes = b"") -> bytes:
    return b"\xff\xd8" + JFIF + b"".join(extra) + TABLES + SCAN + segment(0xC4, bytes(20)) + SCAN + END + behind


def test_a_jpeg_without_tales_stays_byte_for_byte() -> None:
    assert clean_jpeg(jpeg(ICC)) == jpeg(ICC)


def test_the_cameras_tales_are_dropped() -> None:
    told = jpeg(
        segment(0xE1, exif(1)),
        segment(0xE1, b"http://ns.adobe.com/xap/1.0/\0" + SECRET),
        segment(0xED, b"Photoshop 3.0\0" + SECRET),
        segment(0xE2, b"MPF\0" + SECRET),
        segment(0xFE, SECRET),
        segment(0xE5, SECRET),
        ICC,
        behind=b"a film: " + SECRET,
    )
    assert clean_jpeg(told) == jpeg(ICC)


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize("turned", range(2, 9))
def test_which_way_is_up_is_kept(turned: int, order: str) -> None:
    out = clean_jpeg(jpeg(segment(0xE1, exif(turned, order)), ICC))
    assert SECRET not in out
    # by hand from CIPA DC-008: big-endian TIFF, one entry, 0x0112, SHORT, one, value left-justified, no next directory
    minimal = b"Exif\0\0MM\0*\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0" + bytes([turned]) + b"\0\0\0\0\0\0"
    assert out == b"\xff\xd8" + JFIF + segment(0xE1, minimal) + ICC + jpeg()[2 + len(JFIF) :]
    assert clean_jpeg(out) == out


@pytest.mark.parametrize("block", [b"Exif\0\0", b"Exif\0\0II*\0", b"Exif\0\0II*\0\xff\xff\xff\xff", exif(9), exif(0)])
def test_an_odd_exif_block_is_dropped(block: bytes) -> None:
    assert clean_jpeg(jpeg(segment(0xE1, block))) == jpeg()


def test_half_a_jpeg_is_refused() -> None:
    whole = jpeg(segment(0xE1, exif(6)))
    for length in range(3, len(whole)):
        with pytest.raises(InputError) as raised:
            clean_jpeg(whole[:length])
        assert raised.value.code == "photo.damaged"


def chunk(name: bytes, content: bytes) -> bytes:
    return struct.pack(">I", len(content)) + name + content + struct.pack(">I", zlib.crc32(name + content))


def png(*extra: bytes) -> bytes:
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", 1, 1, 8, 0, 0, 0, 0)) + b"".join(extra)
        + chunk(b"IDAT", zlib.compress(b"\0\0")) + chunk(b"IEND", b"")
    )  # fmt: skip


def test_a_png_loses_its_text_and_what_is_behind() -> None:
    told = png(chunk(b"eXIf", SECRET), chunk(b"tEXt", SECRET), chunk(b"iTXt", SECRET), chunk(b"sRGB", b"\0")) + SECRET
    assert clean_png(told) == png(chunk(b"sRGB", b"\0"))
    for length in range(9, len(png())):
        with pytest.raises(InputError):
            clean_png(png()[:length])


def webp(*chunks: tuple[bytes, bytes]) -> bytes:
    body = b"WEBP" + b"".join(
        name + struct.pack("<I", len(data)) + data + b"\0" * (len(data) % 2) for name, data in chunks
    )
    return b"RIFF" + struct.pack("<I", len(body)) + body


def test_a_webp_loses_its_tales_and_says_so() -> None:
    told = webp((b"VP8X", bytes([0x2C]) + bytes(9)), (b"VP8 ", b"abc"), (b"EXIF", SECRET), (b"XMP ", SECRET)) + SECRET
    assert clean_webp(told) == webp((b"VP8X", bytes([0x20]) + bytes(9)), (b"VP8 ", b"abc"))
    whole = webp((b"VP8 ", b"abcd"))
    assert clean_webp(whole) == whole
    for length in range(12, len(whole)):
        with pytest.raises(InputError):
            clean_webp(whole[:length])


@pytest.mark.parametrize("data", [b"", b"GIF89a", b"<svg/>", b"RIFF\0\0\0\0WAVE", b"\xff\xd8"])
def test_anything_else_is_refused(data: bytes) -> None:
    with pytest.raises(InputError) as raised:
        cleaned(data)
    assert raised.value.code == "photo.kind"


@pytest.fixture
def noted(store: Store, key: str) -> str:
    store.put(key, NewEntry("a1", "2026-06-01T07:30", "note", text="look"))
    return key


def test_a_picture_is_kept_with_its_entry(store: Store, noted: str) -> None:
    at = store.garden(noted).log_version
    photo = store.add_photo(noted, "a1", jpeg(segment(0xE1, exif(1))), by="kim")
    kind, data = store.photo(noted, photo)
    assert (kind, data) == ("image/jpeg", jpeg())
    assert photo == hashlib.sha256(data).hexdigest()
    assert store.entry(noted, "a1").photos == (photo,)
    assert store.entries(noted)[0].photos == (photo,)
    assert store.garden(noted).log_version == at + 1


def test_the_same_picture_twice_counts_once(store: Store, noted: str) -> None:
    store.put(noted, NewEntry("a2", "2026-06-01T07:30", "note", text="look"))
    one = {store.add_photo(noted, entry, png(), by="kim") for entry in ("a1", "a1", "a2")}
    assert len(one) == 1
    assert store.entry(noted, "a1").photos == store.entry(noted, "a2").photos == tuple(one)


def test_ten_pictures_an_entry(store: Store, noted: str) -> None:
    made = [store.add_photo(noted, "a1", png(chunk(b"pHYs", bytes([n] * 9)))) for n in range(10)]
    assert store.entry(noted, "a1").photos == tuple(made)
    with pytest.raises(InputError) as raised:
        store.add_photo(noted, "a1", png())
    assert raised.value.code == "photo.many"
    assert store.add_photo(noted, "a1", png(chunk(b"pHYs", bytes([3] * 9)))) == made[3]


def test_what_is_too_large_or_belongs_nowhere_is_refused(store: Store, noted: str) -> None:
    with pytest.raises(InputError) as raised:
        store.add_photo(noted, "a1", jpeg() + bytes(MAX_BYTES))
    assert raised.value.code == "photo.too_large"
    with pytest.raises(InputError) as raised:
        store.add_photo(noted, "zz", jpeg())
    assert raised.value.code == "log.unknown"
    other = store.add_garden({"garden": {"name": "Other"}}).key
    photo = store.add_photo(noted, "a1", jpeg())
    for key, wanted in ((noted, "0" * 64), (other, photo)):
        with pytest.raises(InputError) as raised:
            store.photo(key, wanted)
        assert raised.value.code == "photo.unknown"
