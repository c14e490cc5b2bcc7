"""The register map as text."""

from simkit import compile_design
from simkit.host import register_map, to_markdown, to_systemrdl
from tests.host.host_designs import Whole


def test_addresses_follow_size_and_order():
    entries = {e.endpoint.name: (e.address, e.size, e.reset) for e in register_map(compile_design(Whole))}
    assert entries == {"limit": (0, 4, 900), "guard.gain": (4, 4, 24), "guard.seen": (8, 8, 0)} or entries == {
        "guard.gain": (0, 4, 24),
        "guard.seen": (8, 8, 0),
        "limit": (16, 4, 900),
    }


def test_markdown_has_a_row_for_each_register():
    text = to_markdown(compile_design(Whole))
    assert "| guard.gain | rw | ufixed(3, -4) | 0.0625 | 1.5 | mm/s |" in text
    assert "| limit | rw | unsigned(16) | 1 | 900 |  |" in text and len(text.splitlines()) == 5


def test_systemrdl_has_a_register_for_each():
    text = to_systemrdl(compile_design(Whole))
    assert text.startswith("addrmap Whole {") and text.rstrip().endswith("};")
    assert "field { sw = rw; hw = r; } value[15:0] = 16'h384;" in text
    assert "field { sw = r; hw = w; } value[39:0] = 40'h0;" in text and "regwidth = 64;" in text
    assert 'desc = "ufixed(3, -4), unit mm/s";' in text and "} guard_gain @ 0x" in text
    assert text.count("{") == text.count("}")
