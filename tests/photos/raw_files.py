"""Raw files as cameras write them, byte by byte: a small picture, the preview, and what the sensor saw."""

from __future__ import annotations

import struct

_SIZES = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 10: 8, 13: 4}
_CODES = {1: "B", 3: "H", 4: "I", 13: "I"}


class Directory:
    """Rows of one directory of a TIFF: tag -> (type, values); bytes are put behind it."""

    def __init__(self, rows: dict[int, tuple[int, list[int] | bytes]]) -> None:
        self.rows = rows

    def render(self, at: int) -> bytes:
        """The directory as it stands at this offset, little-endian, what it points to behind it."""
        head = struct.pack("<H", len(self.rows))
        behind, table = b"", b""
        start = at + 2 + 12 * len(self.rows) + 4
        for tag, (kind, values) in sorted(self.rows.items()):
            if isinstance(values, bytes):
                data, count = values, len(values) // _SIZES[kind]
            else:
                data = struct.pack(f"<{len(values)}{_CODES.get(kind, 'I')}", *values)
                count = len(values) // 2 if kind in (5, 10) else len(values)
            if len(data) > 4:
                table += struct.pack("<HHII", tag, kind, count, start + len(behind))
                behind += data + b"\0" * (len(data) % 2)
            else:
                table += struct.pack("<HHI", tag, kind, count) + data.ljust(4, b"\0")
        return head + table + bytes(4) + behind


def dng(preview: bytes, size: tuple[int, int], *, orientation: int = 1, taken: str = "2026:02:07 10:33:50") -> bytes:
    """A DNG 1.4 with a plain small picture, `preview` (a JPEG of `size`) and 64 by 48 numbers of a sensor."""
    small, sensor = bytes(16 * 12 * 3), struct.pack("<H", 900) * (64 * 48)
    at_small = 8
    at_preview = at_small + len(small)
    at_sensor = at_preview + len(preview) + len(preview) % 2
    at_raw = at_sensor + len(sensor)
    raw = Directory(
        {
            254: (4, [0]),
            256: (4, [64]),
            257: (4, [48]),
            258: (3, [16]),
            259: (3, [1]),
            262: (3, [32803]),
            273: (4, [at_sensor]),
            277: (3, [1]),
            278: (4, [48]),
            279: (4, [len(sensor)]),
            33421: (3, [2, 2]),
            33422: (1, bytes([0, 1, 1, 2])),
        }
    ).render(at_raw)
    at_shown = at_raw + len(raw)
    shown = Directory(
        {
            254: (4, [1]),
            256: (4, [size[0]]),
            257: (4, [size[1]]),
            258: (3, [8, 8, 8]),
            259: (3, [7]),
            262: (3, [6]),
            273: (4, [at_preview]),
            277: (3, [3]),
            278: (4, [size[1]]),
            279: (4, [len(preview)]),
        }
    ).render(at_shown)
    at_exif = at_shown + len(shown)
    exif = Directory({0x9003: (2, taken.encode() + b"\0"), 0x829A: (5, [1, 60])}).render(at_exif)
    at_first = at_exif + len(exif)
    first = Directory(
        {
            254: (4, [1]),
            256: (4, [16]),
            257: (4, [12]),
            258: (3, [8, 8, 8]),
            259: (3, [1]),
            262: (3, [2]),
            271: (2, b"Example\0"),
            272: (2, b"Example Raw 2\0"),
            273: (4, [at_small]),
            274: (3, [orientation]),
            277: (3, [3]),
            278: (4, [12]),
            279: (4, [len(small)]),
            330: (4, [at_raw, at_shown]),
            34665: (4, [at_exif]),
            50706: (1, bytes([1, 4, 0, 0])),
            50708: (2, b"Example Raw 2\0"),
            50721: (10, [1, 1, 0, 1, 0, 1, 0, 1, 1, 1, 0, 1, 0, 1, 0, 1, 1, 1]),
        }
    ).render(at_first)
    body = small + preview + bytes(len(preview) % 2) + sensor + raw + shown + exif + first
    return struct.pack("<2sHI", b"II", 42, at_first) + body
