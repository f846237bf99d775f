"""Numbers for the browser in one piece: a JSON head, then arrays one after another."""

import json
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

MAGIC = b"TLP1"
ALIGN = 8
_KINDS = {"uint8": "u1", "uint16": "u2", "uint32": "u4", "float32": "f4"}


def pack_parcel(head: Mapping[str, object], arrays: Mapping[str, NDArray[np.generic]]) -> bytes:
    """One run of bytes that holds a head and arrays.

    Parameters
    ----------
    head : mapping
        Plain values for JSON; without the key "arrays".
    arrays : mapping of str to array
        Of uint8, uint16, uint32 or float32.

    Returns
    -------
    parcel : bytes
        Four letters, length of the head (uint32, little end first), the head as
        UTF-8, then every array at a multiple of 8 bytes from the start of the bytes
        behind the head. The head's "arrays" tells kind, first byte and count of each.

    Raises
    ------
    TypeError
        If an array is of another kind.
    """
    table, pieces, place = {}, [], 0
    for name, array in arrays.items():
        kind = _KINDS.get(array.dtype.name)
        if kind is None:
            raise TypeError(f'array "{name}" is of {array.dtype.name}; use one of {[*_KINDS]}')
        raw = np.ascontiguousarray(array).astype(array.dtype.newbyteorder("<")).tobytes()
        table[name] = [kind, place, int(array.size)]
        pieces.append(raw + bytes(-len(raw) % ALIGN))
        place += len(pieces[-1])
    text = json.dumps(
        {**head, "arrays": table}, allow_nan=False, separators=(",", ":"), ensure_ascii=False
    ).encode()
    text += b" " * (-(len(MAGIC) + 4 + len(text)) % ALIGN)
    return b"".join([MAGIC, len(text).to_bytes(4, "little"), text, *pieces])


def unpack_parcel(parcel: bytes) -> tuple[dict[str, Any], dict[str, NDArray[Any]]]:
    """Head and arrays of a parcel, as the browser reads them.

    Parameters
    ----------
    parcel : bytes
        From `pack_parcel`.

    Returns
    -------
    head : dict
        With its "arrays".
    arrays : dict of str to array
        One-dimensional.

    Raises
    ------
    ValueError
        If it is not a parcel.
    """
    if parcel[:4] != MAGIC:
        raise ValueError(f"not a parcel: begins with {parcel[:4]!r}")
    start = 8 + int.from_bytes(parcel[4:8], "little")
    head = json.loads(parcel[8:start])
    arrays: dict[str, NDArray[Any]] = {
        name: np.frombuffer(parcel, np.dtype(f"<{kind}"), count, start + place)
        for name, (kind, place, count) in head["arrays"].items()
    }
    return head, arrays
