"""Checksums and framing, byte by byte, to check designs with.

Parameters of the checksums as in the RevEng catalogue of parametrised CRC algorithms.  Framing: S. Cheshire, M. Baker,
"Consistent overhead byte stuffing", IEEE/ACM Trans. Networking 7(2), 1999.
"""

from __future__ import annotations

from typing import NamedTuple


class Crc(NamedTuple):
    """A checksum: width in bits, polynomial, start value, whether bits go in and out lowest first, final exclusive or."""

    width: int
    poly: int
    init: int
    reflected: bool
    xorout: int


CRCS = {
    "CRC-8/SMBUS": Crc(8, 0x07, 0, False, 0),
    "CRC-8/MAXIM-DOW": Crc(8, 0x31, 0, True, 0),
    "CRC-16/ARC": Crc(16, 0x8005, 0, True, 0),
    "CRC-16/MODBUS": Crc(16, 0x8005, 0xFFFF, True, 0),
    "CRC-16/IBM-3740": Crc(16, 0x1021, 0xFFFF, False, 0),
    "CRC-16/XMODEM": Crc(16, 0x1021, 0, False, 0),
    "CRC-16/KERMIT": Crc(16, 0x1021, 0, True, 0),
    "CRC-32/ISO-HDLC": Crc(32, 0x04C11DB7, 0xFFFFFFFF, True, 0xFFFFFFFF),
    "CRC-32/ISCSI": Crc(32, 0x1EDC6F41, 0xFFFFFFFF, True, 0xFFFFFFFF),
}


def reflect(value: int, width: int) -> int:
    """The lowest ``width`` bits in reverse order."""
    return int(f"{value & ((1 << width) - 1):0{width}b}"[::-1], 2)


def crc(data: bytes, name: str = "CRC-16/IBM-3740") -> int:
    """Checksum of ``data`` by a catalogue name; :class:`ValueError` for an unknown one.

    >>> hex(crc(b"123456789"))
    '0x29b1'
    """
    if name not in CRCS:
        raise ValueError(f"unknown checksum {name!r}; known: {', '.join(CRCS)}")
    width, poly, register, reflected, xorout = CRCS[name]
    top, mask = 1 << (width - 1), (1 << width) - 1
    for byte in data:
        register ^= (reflect(byte, 8) if reflected else byte) << (width - 8)
        for _ in range(8):
            register = ((register << 1) ^ (poly if register & top else 0)) & mask
    return (reflect(register, width) if reflected else register) ^ xorout


def cobs_encode(data: bytes) -> bytes:
    """``data`` without zero bytes in it (the delimiter is not added)."""
    frame = bytearray()
    pieces = data.split(b"\0")
    for number, piece in enumerate(pieces, 1):
        rest = piece
        while len(rest) >= 254:
            frame += b"\xff" + rest[:254]
            rest = rest[254:]
        if rest or not piece or number < len(pieces):
            frame += bytes([len(rest) + 1]) + rest
    return bytes(frame)


def cobs_decode(frame: bytes) -> bytes:
    """What :func:`cobs_encode` was given; :class:`ValueError` for a frame that it cannot have made."""
    data, at = bytearray(), 0
    while at < len(frame):
        code = frame[at]
        block = frame[at + 1 : at + code]
        if not code or 0 in block or len(block) != code - 1:
            raise ValueError(f"byte {at} of the frame does not fit: code {code}, {len(frame) - at - 1} bytes follow")
        data += block
        at += code
        if code < 255 and at < len(frame):
            data.append(0)
    return bytes(data)
