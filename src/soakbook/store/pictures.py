"""Pictures without their tales: what a camera writes beside the picture (where, when, with what) is dropped.

The file formats are read by their published structure: JPEG (ITU-T T.81, annex B), PNG (ISO/IEC 15948), WebP (RFC 9649),
and the orientation by Exif (CIPA DC-008). The picture itself is copied as it is.
"""

from __future__ import annotations

import re
import struct
import zlib

from soakbook.errors import InputError
from soakbook.said import say

ENDINGS = {"image/jpeg": "jpg", "image/png": "png", "image/webp": "webp"}
_PNG = b"\x89PNG\r\n\x1a\n"
#: What of a PNG is picture: the rest (text, time, Exif) is dropped.
_PNG_KEPT = {
    b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"cHRM", b"gAMA", b"iCCP", b"sBIT", b"sRGB", b"cICP", b"bKGD",
    b"pHYs", b"acTL", b"fcTL", b"fdAT",
}  # fmt: skip
_WEBP_KEPT = {b"VP8 ", b"VP8L", b"VP8X", b"ALPH", b"ANIM", b"ANMF", b"ICCP"}
_WEBP_TALES = 0x0C  # the flags of VP8X for Exif and XMP
_ORIENTATION = 0x0112
_SHORT = 3


def cleaned(data: bytes) -> tuple[str, bytes]:
    """Media type and the picture alone; InputError for what is no JPEG, PNG or WebP, or is damaged."""
    if data.startswith(b"\xff\xd8\xff"):
        return "image/jpeg", clean_jpeg(data)
    if data.startswith(_PNG):
        return "image/png", clean_png(data)
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "image/webp", clean_webp(data)
    raise InputError(
        say("The file is not a picture that can be kept."),
        code="photo.kind",
        field="photo",
        hint=say("JPEG, PNG and WebP can."),
    )


def _damaged() -> InputError:
    return InputError(say("The picture is damaged or not complete."), code="photo.damaged", field="photo")


def clean_jpeg(data: bytes) -> bytes:
    """A JPEG with its picture, its colours and which way is up, up to its end and nothing behind it."""
    head = [b"\xff\xd8"]
    body: list[bytes] = []
    turned = 1
    at = 2
    while True:
        start = at
        while data[at : at + 2] == b"\xff\xff":  # fill bytes
            at += 1
        if len(data) < at + 2 or data[at] != 0xFF:
            raise _damaged()
        marker = data[at + 1]
        if marker == 0xD9:
            break
        if len(data) < at + 4 or marker in (0x00, 0xD8):
            raise _damaged()
        end = at + 2 + int.from_bytes(data[at + 2 : at + 4], "big")
        if end < at + 4 or end > len(data):
            raise _damaged()
        content = data[at + 4 : end]
        if marker == 0xE1 and content.startswith(b"Exif\0\0"):
            turned = _orientation(content[6:])
        if marker == 0xDA:
            end = _scan_end(data, end)
        if _jpeg_kept(marker, content):
            (head if marker == 0xE0 and not body else body).append(data[start:end])
        at = end
    if not any(part.lstrip(b"\xff").startswith(b"\xda") for part in body):
        raise _damaged()
    return b"".join([*head, _exif(turned), *body, b"\xff\xd9"])


def _jpeg_kept(marker: int, content: bytes) -> bool:
    """Not the camera's own segments and comments; but those that say how the colours are meant."""
    if marker == 0xE0:
        return content.startswith(b"JFIF\0")
    if marker == 0xE2:
        return content.startswith(b"ICC_PROFILE\0")
    return marker == 0xEE or not (0xE1 <= marker <= 0xEF or marker == 0xFE)


def _scan_end(data: bytes, at: int) -> int:
    """Where the coded picture that begins at ``at`` is followed by another marker."""
    found = _MARKER.search(data, at)
    if found is None:
        raise _damaged()
    return found.start()


_MARKER = re.compile(rb"\xff[\x01-\xcf\xd8-\xfe]")


def _orientation(tiff: bytes) -> int:
    """Which way is up, 1 to 8, from an Exif block; 1 when it does not say."""
    order = {b"II*\0": "<", b"MM\0*": ">"}.get(tiff[:4])
    if order is None or len(tiff) < 8:
        return 1
    (at,) = struct.unpack_from(f"{order}I", tiff, 4)
    if at + 2 > len(tiff):
        return 1
    (count,) = struct.unpack_from(f"{order}H", tiff, at)
    for entry in range(at + 2, min(at + 2 + 12 * count, len(tiff) - 11), 12):
        tag, kind, number, value = struct.unpack_from(f"{order}HHIH", tiff, entry)
        if tag == _ORIENTATION:
            return value if (kind, number) == (_SHORT, 1) and 1 <= value <= 8 else 1
    return 1


def _exif(turned: int) -> bytes:
    """An Exif segment that says which way is up and nothing else; nothing for a picture that stands."""
    if turned == 1:
        return b""
    tiff = b"MM\0*" + struct.pack(">IHHHIHHI", 8, 1, _ORIENTATION, _SHORT, 1, turned, 0, 0)
    content = b"Exif\0\0" + tiff
    return b"\xff\xe1" + struct.pack(">H", len(content) + 2) + content


def clean_png(data: bytes) -> bytes:
    """A PNG with its picture and its colours, up to its end."""
    out = [_PNG]
    at = len(_PNG)
    while True:
        if len(data) < at + 12:
            raise _damaged()
        end = at + 12 + int.from_bytes(data[at : at + 4], "big")
        name = data[at + 4 : at + 8]
        if end > len(data) or zlib.crc32(data[at + 4 : end - 4]) != int.from_bytes(data[end - 4 : end], "big"):
            raise _damaged()
        if name in _PNG_KEPT:
            out.append(data[at:end])
        at = end
        if name == b"IEND":
            return b"".join(out)


def clean_webp(data: bytes) -> bytes:
    """A WebP with its picture and its colours."""
    stop = 8 + int.from_bytes(data[4:8], "little")
    if stop > len(data):
        raise _damaged()
    out: list[bytes] = []
    at = 12
    while at < stop:
        size = int.from_bytes(data[at + 4 : at + 8], "little")
        end = at + 8 + size + size % 2
        if at + 8 > stop or end > stop:
            raise _damaged()
        name, chunk = data[at : at + 4], data[at:end]
        if name == b"VP8X":
            if size < 10:
                raise _damaged()
            chunk = chunk[:8] + bytes([chunk[8] & ~_WEBP_TALES]) + chunk[9:]
        if name in _WEBP_KEPT:
            out.append(chunk)
        at = end
    if not out:
        raise _damaged()
    body = b"WEBP" + b"".join(out)
    return b"RIFF" + struct.pack("<I", len(body)) + body
