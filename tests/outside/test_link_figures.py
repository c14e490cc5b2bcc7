"""Checksums, framing, serial lines, queues.

Check values: RevEng catalogue of parametrised CRC algorithms.  Framing: S. Cheshire, M. Baker, IEEE/ACM Trans. Networking
7(2), 1999 (the paper's packet from memory).  Serial tolerance: published figures of two microcontroller manuals.
"""

import random

import crccheck.crc
import numpy as np
import pytest
from cobs import cobs

from simkit.dsp import burst_depth, cobs_decode, cobs_encode, crc, md1_length, stall_depth, uart_divider, uart_tolerance

CHECKS = {
    "CRC-8/SMBUS": 0xF4,
    "CRC-8/MAXIM-DOW": 0xA1,
    "CRC-16/ARC": 0xBB3D,
    "CRC-16/MODBUS": 0x4B37,
    "CRC-16/IBM-3740": 0x29B1,
    "CRC-16/XMODEM": 0x31C3,
    "CRC-16/KERMIT": 0x2189,
    "CRC-32/ISO-HDLC": 0xCBF43926,
    "CRC-32/ISCSI": 0xE3069283,
}
PACKAGE = {
    "CRC-8/SMBUS": "Crc8Smbus",
    "CRC-16/MODBUS": "Crc16Modbus",
    "CRC-16/IBM-3740": "Crc16Ibm3740",
    "CRC-32/ISO-HDLC": "Crc32IsoHdlc",
}


@pytest.mark.parametrize("name", CHECKS)
def test_check_values_of_the_catalogue(name):
    assert crc(b"123456789", name) == CHECKS[name]


@pytest.mark.parametrize("name", PACKAGE)
def test_random_bytes_against_crccheck(name):
    other = getattr(crccheck.crc, PACKAGE[name])
    data = random.Random(5).randbytes(200)
    assert all(crc(data[:n], name) == other.calc(data[:n]) for n in range(0, 200, 13))


def test_modbus_frame():
    assert crc(bytes.fromhex("0103 0000 000A"), "CRC-16/MODBUS") == 0xCDC5


def test_an_unknown_checksum_is_refused():
    with pytest.raises(ValueError, match="unknown checksum 'CRC-7'; known: CRC-8/SMBUS"):
        crc(b"", "CRC-7")


LONG = bytes(range(1, 255))
FRAMES = [
    ("", "01"),
    ("00", "0101"),
    ("0000", "010101"),
    ("001100", "01021101"),
    ("11220033", "0311220233"),
    ("11223344", "0511223344"),
    ("11000000", "0211010101"),
    ("DEADBEEF", "05DEADBEEF"),
    ("DEAD00BEEF", "03DEAD03BEEF"),
    ("4500002C4C79000040064F37", "024501042C4C79010540064F37"),
    (LONG.hex(), "FF" + LONG.hex()),
    ("00" + LONG.hex(), "01FF" + LONG.hex()),
    (LONG.hex() + "FF", "FF" + LONG.hex() + "02FF"),
    (LONG[1:].hex() + "FF00", "FF" + LONG[1:].hex() + "FF0101"),
    (LONG[2:].hex() + "FF0001", "FE" + LONG[2:].hex() + "FF0201"),
]


@pytest.mark.parametrize("data, frame", FRAMES)
def test_framing(data, frame):
    data, frame = bytes.fromhex(data), bytes.fromhex(frame)
    assert cobs_encode(data) == frame == cobs.encode(data)
    assert cobs_decode(frame) == data


def test_framing_of_random_bytes_against_the_package():
    rng = random.Random(9)
    for length in range(0, 1200, 37):
        data = bytes(
            rng.choice((0, 1, 2, 255)) if rng.random() < 0.02 else rng.randrange(1, 256) for _ in range(length)
        )
        assert cobs_encode(data) == cobs.encode(data) and cobs_decode(cobs_encode(data)) == data


@pytest.mark.parametrize("frame", ["00", "0500", "05112233", "02110000"])
def test_broken_frames_are_refused(frame):
    with pytest.raises(ValueError, match="does not fit"):
        cobs_decode(bytes.fromhex(frame))


def test_serial_tolerance():
    """8N1: 5.26 %; 4.61 % with a start edge noticed up to 1/16 bit late; manuals print 4.54 and 4.69 % for like receivers."""
    assert uart_tolerance() == pytest.approx(0.052632, abs=1e-6)
    assert uart_tolerance(10, 1 / 16) == pytest.approx(0.046053, abs=1e-6)
    assert uart_tolerance(11) == pytest.approx(0.047619, abs=1e-6)


@pytest.mark.parametrize(
    "clock, baud, times, divider, error",
    [
        (16e6, 115200, 16, 9, -0.03549),
        (16e6, 9600, 16, 104, 0.0016),
        (40e6, 115200, 16, 22, -0.01357),
        (50e6, 115200, 16, 27, 0.00469),
        (1.8432e6, 9600, 16, 12, 0.0),
        (50e6, 115200, 1, 434, 6.4e-5),
        (40e6, 115200, 1, 347, 6.4e-4),
        (40e6, 921600, 1, 43, 0.009367),
    ],
)
def test_serial_dividers(clock, baud, times, divider, error):
    """The figures printed in many manuals' tables, as frequency error."""
    got, off = uart_divider(clock, baud, times)
    assert got == divider and off == pytest.approx(error, abs=1e-5)


@pytest.mark.parametrize("load, waiting", [(0.5, 0.25), (0.8, 1.6), (0.9, 4.05), (0.95, 9.025)])
def test_queue_with_fixed_service(load, waiting):
    """Pollaczek-Khinchine (from memory): half of what random service would give."""
    assert md1_length(load) == pytest.approx(waiting)
    with pytest.raises(ValueError):
        md1_length(1.0)


def test_stall_depth():
    assert (stall_depth(51200, 2, 50e-3), stall_depth(51200, 4, 20e-3), stall_depth(1e6, 1, 20e-3)) == (
        5120,
        4096,
        20000,
    )


@pytest.mark.parametrize(
    "burst, write, read, popular, real", [(120, 80, 50, 45, 46), (80, 100, 80, 16, 17), (160, 100, 80, 32, 33)]
)
def test_burst_depth_is_one_more_than_the_popular_formula(burst, write, read, popular, real):
    """The printed answers 45, 16 and 32 count one write period too many; an event simulation needs one word more."""
    assert burst - burst * read // write == popular
    assert burst_depth(burst, write, read) == real == simulated(burst, write, read)


def simulated(burst, write, read):
    events = sorted([(n * read, 0) for n in range(burst)] + [(k * write, 1) for k in range(1, burst)])
    level = highest = 0
    for _, taken in events:
        level += -1 if taken and level else 0 if taken else 1
        highest = max(highest, level)
    return highest


@pytest.mark.parametrize("load", [0.5, 0.8])
def test_queue_length_by_simulation(load):
    """Lindley's recursion: each arrival waits for what is left of the work before it; Little's law turns time into length."""
    rng = np.random.default_rng(4)
    waits, left = [], 0.0
    for gap in rng.exponential(1 / load, 200_000):
        left = max(left - gap, 0.0)
        waits.append(left)
        left += 1.0
    assert load * np.mean(waits) == pytest.approx(md1_length(load), rel=0.05)
