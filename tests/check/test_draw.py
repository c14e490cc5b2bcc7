"""Numbers from names: repeatable everywhere, even, and secret where they must be."""

import hashlib
import hmac

import pytest

from simkit.check.draw import Draw, private_seed, public_seed


def test_first_number_is_sha256_of_the_names():
    # FIPS 180-4 gives SHA-256; hashlib is the reference implementation.
    digest = hashlib.sha256(b"ada\x1f05-a\x1f" + bytes(8)).digest()
    assert Draw("ada", "05-a").bits64() == int.from_bytes(digest[:8], "big")


def test_private_seed_is_hmac_of_the_secret():
    # RFC 2104, through the standard library's other entry point.
    digest = hmac.new(b"key", b"grade\x1fada\x1f05-a", "sha256").digest()
    assert private_seed(b"key", "ada", "05-a") == int.from_bytes(digest[:8], "big") >> 1
    assert private_seed(b"other", "ada", "05-a") != private_seed(b"key", "ada", "05-a")
    assert public_seed("ada", "05-a") != private_seed(b"", "ada", "05-a")


def test_integers_are_in_range_and_even():
    draw = Draw("even")
    numbers = [draw.integer(-2, 3) for _ in range(6000)]
    assert set(numbers) == {-2, -1, 0, 1, 2, 3}
    # Each has probability 1/6: 1000 +- 29 (one standard deviation of a binomial); 6 of those are never reached.
    assert all(abs(numbers.count(n) - 1000) < 175 for n in range(-2, 4))


def test_names_do_not_run_together():
    assert Draw("ab", "c").bits64() != Draw("a", "bc").bits64()


def test_real_keeps_its_step():
    draw = Draw("step")
    assert {round(draw.real(1.0, 2.0, 0.25) * 4) for _ in range(200)} == {4, 5, 6, 7, 8}
    assert all(0.5 <= draw.real(0.5, 0.75) < 0.75 for _ in range(200))


def test_an_empty_range_is_refused():
    with pytest.raises(ValueError, match="between 3 and 2"):
        Draw("x").integer(3, 2)
