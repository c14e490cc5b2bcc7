"""Values as JSON can hold them, and back: numbers, texts, bytes, lists, tuples, dicts, arrays, durations.

``unpack`` trusts nothing: what it makes are values of these types and nothing else.
"""

from __future__ import annotations

import base64
from collections.abc import Callable
from fractions import Fraction
from typing import Any

import numpy as np

from ...units import Duration

MAX_DEPTH = 12
MAX_BITS = 4096
MAX_BYTES = 4 * 1024 * 1024
DTYPES = ("bool", *(f"{kind}{8 * size}" for kind in ("int", "uint") for size in (1, 2, 4, 8)))
DTYPES += ("float32", "float64", "complex64", "complex128")


class BadValue(ValueError):
    """A value that cannot cross, or data that stands for none."""


def pack(value: Any, other: Callable[[Any], Any] | None = None, depth: int = MAX_DEPTH) -> Any:
    """``value`` as data; ``other`` packs what is of none of the known types, and raises :class:`BadValue` if it cannot."""
    if depth < 0:
        raise BadValue("a value is nested too deeply")
    if isinstance(value, (np.bool_, np.number)):
        value = value.item()
    if value is None or isinstance(value, (bool, float)):
        return value
    if isinstance(value, int):
        return _whole(int(value))
    if isinstance(value, str):
        return str(value)
    for kind, tag, convert in _TAGGED:
        if isinstance(value, kind):
            return {"$": tag, "of": convert(value)}
    if isinstance(value, list):
        return [pack(item, other, depth - 1) for item in value]
    if isinstance(value, tuple):
        return {"$": "tuple", "of": [pack(item, other, depth - 1) for item in value]}
    if isinstance(value, dict):
        return {"$": "dict", "of": [[pack(k, other, depth - 1), pack(v, other, depth - 1)] for k, v in value.items()]}
    if other is not None:
        return other(value)
    raise BadValue(f"a {type(value).__name__} is no plain value: give numbers, texts, lists, dicts or arrays")


def unpack(data: Any, other: Callable[[dict[str, Any]], Any] | None = None, depth: int = MAX_DEPTH) -> Any:
    """The value that ``data`` stands for, or :class:`BadValue`; ``other`` takes dicts with a tag of its own."""
    if depth < 0:
        raise BadValue("a value is nested too deeply")
    if data is None or isinstance(data, (bool, float, str)):
        return data
    if isinstance(data, int):
        return _whole(data)
    if isinstance(data, list):
        return [unpack(item, other, depth - 1) for item in data]
    if not isinstance(data, dict):
        raise BadValue("not a value")
    try:
        return _tagged(data, other, depth)
    except (LookupError, TypeError, ValueError, ArithmeticError) as error:
        raise BadValue(f"not a value ({type(error).__name__})") from None


def _tagged(data: dict[str, Any], other: Callable[[dict[str, Any]], Any] | None, depth: int) -> Any:
    tag, of = data["$"], data["of"]
    if tag == "tuple":
        return tuple(unpack(item, other, depth - 1) for item in of)
    if tag == "dict":
        return {unpack(key, other, depth - 1): unpack(value, other, depth - 1) for key, value in of}
    if tag == "array":
        return _array(of)
    if tag == "bytes":
        return base64.b64decode(of, validate=True)
    if tag == "complex":
        return complex(*(float(part) for part in of))
    if tag == "duration":
        return Duration(Fraction(_whole(of[0]), _whole(of[1])))
    if other is None:
        raise BadValue(f"there is no value of the kind {tag!r}")
    return other(data)


def _whole(value: Any) -> int:
    if type(value) is not int or value.bit_length() > MAX_BITS:
        raise BadValue(f"a whole number of at most {MAX_BITS} bits is wanted")
    return value


def _array(of: dict[str, Any]) -> np.ndarray:
    shape = tuple(_whole(n) for n in of["shape"])
    if of["dtype"] not in DTYPES or any(n < 0 for n in shape) or len(shape) > 8:
        raise BadValue("no array of this kind can cross")
    return np.frombuffer(base64.b64decode(of["bytes"], validate=True), of["dtype"]).reshape(shape).copy()


def _array_data(array: np.ndarray) -> dict[str, Any]:
    if array.dtype.kind == "O" and all(isinstance(item, int) for item in array.ravel()):
        raise BadValue("the array's numbers are wider than 64 bits: give a list")
    if array.dtype.name not in DTYPES:
        raise BadValue(f"an array of {array.dtype} cannot cross: give numbers")
    if array.nbytes > MAX_BYTES:
        raise BadValue(f"the array is larger than {MAX_BYTES} bytes")
    return {
        "dtype": array.dtype.name,
        "shape": list(array.shape),
        "bytes": base64.b64encode(np.ascontiguousarray(array).tobytes()).decode(),
    }


_TAGGED: tuple[tuple[Any, str, Callable[[Any], Any]], ...] = (
    (np.ndarray, "array", _array_data),
    ((bytes, bytearray), "bytes", lambda value: base64.b64encode(bytes(value)).decode()),
    (complex, "complex", lambda value: [value.real, value.imag]),
    (Duration, "duration", lambda value: [value.ps.numerator, value.ps.denominator]),
)
