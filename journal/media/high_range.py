"""Whether a picture holds more light than a plain screen has, by what its file says of it."""

from __future__ import annotations

from collections.abc import Mapping
from enum import Enum
from typing import Any, BinaryIO


class HighRange(Enum):
    """How high range is coded; the value is the number of ITU-T H.273, table 3."""

    PQ = 16
    HLG = 18


BT_709, BT_2020, P3 = 1, 9, 12
"""Primaries by the numbers of ITU-T H.273, table 2."""


def still_range(info: Mapping[Any, Any], source: BinaryIO) -> tuple[HighRange, int] | None:
    """(how the range of a still is coded, its primaries); None for a picture of plain range.

    By the numbers in an HEIC or AVIF (nclx, ISO/IEC 14496-12, 12.1.5), in a PNG (cICP: third edition, 11.3.2.6), or in
    the `cicp` tag of a colour profile (ICC.1:2022, 9.2.17 and 10.3).
    """
    named, profile = info.get("nclx_profile"), info.get("icc_profile")
    primaries = transfer = 0
    if isinstance(named, dict):
        primaries, transfer = named.get("color_primaries", 0), named.get("transfer_characteristics", 0)
    elif (
        numbers := _box_numbers(source)
        or _png_numbers(source)
        or _profile_numbers(profile if isinstance(profile, bytes) else b"")
    ):
        primaries, transfer = numbers[0], numbers[1]
    range_ = next((one for one in HighRange if one.value == transfer), None)
    return (range_, primaries if primaries in (BT_709, P3) else BT_2020) if range_ else None


def _box_numbers(source: BinaryIO) -> bytes:
    source.seek(0)
    head = source.read(65_536)
    at = head.find(b"colrnclx") if head[4:8] == b"ftyp" else -1
    return head[at + 9 : at + 13 : 2].ljust(2, b"\0") if at >= 0 else b""


def _png_numbers(source: BinaryIO) -> bytes:
    source.seek(0)
    if source.read(8) != b"\x89PNG\r\n\x1a\n":
        return b""
    while len(head := source.read(8)) == 8 and head[4:] not in (b"PLTE", b"IDAT"):
        length = int.from_bytes(head[:4], "big")
        if head[4:] == b"cICP" and length == 4:
            return source.read(4)
        source.seek(length + 4, 1)
    return b""


def _profile_numbers(profile: bytes) -> bytes:
    for number in range(min(int.from_bytes(profile[128:132], "big"), 100)):
        row = profile[132 + 12 * number : 144 + 12 * number]
        at = int.from_bytes(row[4:8], "big")
        if row[:4] == b"cicp" == profile[at : at + 4]:
            return profile[at + 8 : at + 12].ljust(4, b"\0")
    return b""
