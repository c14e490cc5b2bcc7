"""Words of exclusive-ors, bit by bit: against the standard library's own CRC, and that the estimate gains from it."""

from __future__ import annotations

import binascii
import random

import pytest

from simkit import compile_design
from simkit.build import estimate
from simkit.build.linear import Words, flattened
from simkit.build.suited import suited
from tests.build.corpus import CORPUS


def test_eight_steps_of_a_checksum_are_the_exclusive_ors_that_it_says():
    """CRC-16 with polynomial 0x1021: ``binascii.crc_hqx`` of CPython is the reference."""
    net = suited(compile_design(CORPUS["crc"]()))
    number = next(i for i, reg in enumerate(net.regs) if reg.name == "crc")
    word = Words(net.nodes)[net.regs[number].next]
    assert word.steps >= 8 and len(word.bits) == 16
    names = {i: net.regs[n.attr].name for i, n in enumerate(net.nodes) if n.op == "reg"}
    rng = random.Random(3)
    for _ in range(50):
        state = {"byte": rng.randrange(256), "crc": rng.randrange(65536)}
        got = 0
        for place, (bits, constant) in enumerate(word.bits):
            value = constant
            for node, bit in bits:
                value ^= state[names[node]] >> bit & 1
            got |= value << place
        assert got == binascii.crc_hqx(bytes([state["byte"]]), state["crc"])


@pytest.mark.parametrize("name", ["adder 16", "select 8", "gray"])
def test_other_circuits_stay_as_they_are(name):
    net = suited(compile_design(CORPUS[name]()))
    assert not [node for node in flattened(net).nodes if node.op == "parity" and len(node.args) > 1]


def test_a_checksum_is_estimated_as_small_as_it_is():
    assert 10 < estimate(CORPUS["crc"]()).usage["LUTs"] < 40
