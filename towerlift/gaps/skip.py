"""Pairs of members that are meant to touch, and are left out of a query."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from towerlift.gaps.body import Body


def skip_keys(moving: Body, fixed: Body, pairs: ArrayLike | None) -> NDArray[np.int64]:
    """Sorted keys of the pairs of members a query leaves out.

    Parameters
    ----------
    moving, fixed : Body
        The bodies.
    pairs : (p, 2) int or None
        Member of the moving body, member of the fixed one.

    Returns
    -------
    keys : (p,) int
        Rank of the moving member times 2^32, plus rank of the fixed one.

    Raises
    ------
    ValueError
        If the shape is wrong or a member is not there.
    """
    if pairs is None:
        return np.empty(0, np.int64)
    given = np.asarray(pairs)
    if not given.size:
        return np.empty(0, np.int64)
    if given.ndim != 2 or given.shape[1] != 2 or given.dtype.kind not in "iu":
        raise ValueError(f"skip_pairs must be (p, 2) whole numbers, got {given.shape}")
    ranks = []
    for column, body, name in ((0, moving, "moving"), (1, fixed, "fixed")):
        ids = given[:, column].astype(np.int64)
        absent = ~np.isin(ids, body.member_ids)
        if absent.any():
            row = int(np.argmax(absent))
            raise ValueError(
                f"skip_pairs[{row}] names member {int(ids[row])}, which the {name} body has not"
            )
        ranks.append(np.searchsorted(body.member_ids, ids))
    return np.unique((ranks[0] << 32) + ranks[1])


class UnsearchedError(RuntimeError):
    """A search ran out of room before it met a single pair: not certified."""


def no_answer(moving: Body, fixed: Body, *, proved: bool = True) -> Exception:
    """Error for a query that met no pair of faces.

    Parameters
    ----------
    moving, fixed : Body
        The bodies.
    proved : bool, optional
        Whether the search was completed.

    Returns
    -------
    error : Exception
        To be raised.
    """
    if not proved:
        return UnsearchedError("not certified: the search ran out of room")
    return ValueError(
        f"skip_pairs leaves nothing to measure between {len(moving.member_ids)} moving and "
        f"{len(fixed.member_ids)} fixed members"
    )
