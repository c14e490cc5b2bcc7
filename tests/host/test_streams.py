"""Streams in both directions: order, back-pressure, counted losses, time-outs."""

import numpy as np
import pytest

from simkit import ms, s
from simkit.bench import load
from simkit.host import HostFault, HostTimeout
from tests.host.host_designs import Counter, Hungry, Slow


@pytest.mark.parametrize("host", ["ideal", "desktop", "real-time"])
def test_every_word_comes_once_and_in_order(host):
    rig = load(Counter, host=host, record=[])
    words = np.concatenate([rig.host.log.read(500), rig.host.log.read(700)])
    assert words.tolist() == list(range(1200))
    assert rig.host.log.overflow == 0


def test_reading_takes_what_is_there_without_waiting():
    rig = load(Counter, record=[]).run(ms(10))
    words = rig.host.log.read()
    assert 450 <= len(words) <= 500 and words.tolist() == list(range(len(words)))
    assert rig.host.log.available == 0 and rig.host.log.moved == len(words)


def test_a_read_gives_up_and_keeps_what_came():
    rig = load(Counter, record=[])
    with pytest.raises(HostTimeout, match=r"stream log: \d+ of 10000 words had come by 50 ms"):
        rig.host.log.read(10_000, timeout=ms(50))
    assert rig.host.log.timeouts == 1
    assert rig.host.log.read(2000).tolist() == list(range(2000)) and rig.host.log.timeouts == 1


def test_a_slow_reader_loses_exactly_what_is_counted_and_recovers():
    rig = load(Counter, record=["n"])
    rig.host.log.buffer = 300
    rig.run(ms(100))
    produced, lost = rig.trace("n").values[-1], rig.host.log.overflow
    first = rig.host.log.read()
    assert len(first) == 300 and lost == produced - 300 - 256
    rig.host.log.buffer = 65536
    rest = rig.run(ms(20)).host.log.read(256 + 500)
    assert rest[256] >= produced, "after what lay in the design's queue there is a gap: the lost words"
    assert np.diff(rest[256:]).tolist() == [1] * 499 and (np.diff(rest) >= 1).all()
    later = rig.host.log.overflow
    assert rig.run(ms(50)).host.log.overflow == later
    assert rest[-1] + 1 - len(first) - len(rest) == later, "what is missing is what was counted"


def test_an_interrupted_link_stops_the_words_and_they_are_counted():
    rig = load(Counter, record=["log.count"])
    rig.host.log.read(100)
    rig.host.link.drop(at=ms(10), until=ms(60))
    rig.run(ms(59) - rig.now)
    queued_at_10_ms = rig.trace("log.count").at(400_000)
    assert abs(rig.host.log.overflow - (49 * 50 - 256 + queued_at_10_ms)) <= 1
    words = rig.run(ms(41)).host.log.read()
    assert words[-1] - words[0] + 1 - len(words) == rig.host.log.overflow


def test_words_to_the_design_wait_for_room():
    rig = load(Slow, host="real-time", record=[])
    values = [0.5, -0.25, 3.0625] * 40
    rig.host.words.write(values)
    assert rig.host.words.waiting > 0
    rig.run(ms(8))
    assert rig.host.taken == 120 and rig.host.total == sum(values)
    assert rig.host.words.overflow == 0


def test_a_full_host_buffer_times_out():
    rig = load(Slow, record=[])
    rig.host.words.buffer = 10
    with pytest.raises(HostTimeout, match=r"there was room for \d+ of 1000 words by 5 ms"):
        rig.host.words.write([1] * 1000, timeout=ms(5))
    with pytest.raises(HostFault, match=r"words is sfixed\(3, -4\): 9 is outside -8.0 to 7.9375"):
        rig.host.words.write([9])


def test_a_stream_is_no_register():
    rig = load(Counter)
    with pytest.raises(HostFault, match="log is no register"):
        rig.host.log = 3


def test_both_engines_move_the_same_words_in_the_same_ticks():
    seen = []
    for engine in ("native", "reference"):
        rig = load(Counter, record=["log.overflow", "log.valid", "log.count"], engine=engine, host="real-time")
        rig.run(ticks=60_000)
        seen.append(
            [rig.trace(name).ticks.tolist() for name in ("log.valid", "log.count")] + [rig.host.log.read().tolist()]
        )
    assert seen[0] == seen[1] and len(seen[0][2]) > 30


def test_a_run_in_pieces_moves_the_same_words():
    seen = []
    for pieces in ([8_000_000], [123_457, 1, 1_000_000, 6_876_542]):
        rig = load(Counter, record=["log.count"])
        for piece in pieces:
            rig.run(ticks=piece)
        seen.append((rig.trace("log.count").ticks.tolist(), rig.host.log.read().tolist()))
    assert seen[0] == seen[1]


def test_long_streams_stay_cheap_to_hold():
    rig = load(Counter, record=[])
    for _ in range(5):
        rig.run(s(0.2))
        rig.host.log.read()
    assert len(rig.host.log._strobes) < 2000 and rig.host.log.available == 0


def test_a_design_that_asks_in_vain_is_counted():
    rig = load(Hungry, record=["asked"]).run(ms(5))
    asked = rig.trace("asked").values[-1]
    assert rig.host.orders.underflow == asked > 0
    rig.host.orders.write([1, 2, 3])
    rig.run(ms(20))
    assert rig.host.orders.underflow == rig.trace("asked").values[-1] - 3
    with pytest.raises(HostFault, match="only a stream from the host"):
        _ = load(Counter, record=[]).host.log.underflow
