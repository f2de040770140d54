"""Heads of a record: one Merkle tree (RFC 9162, section 2.1) over event ids, in two orders.

- **Root**: leaves are the 32-byte ids in ascending order. It depends on the *set* of events only,
  so two copies that were merged along different ways have the same root.
- **Log root**: leaves are the ids in the order in which this store received them. It only ever
  grows at its end, so an earlier head (size, log root) can be checked against the record as it
  is now, and a consistency proof can be given. Copies with other histories have other log roots.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from typing import Any

from pollstead.election.values import Value, require


class Head(Value, frozen=True):
    """How many events there are, the root over their set, and the root over their order here."""

    size: int
    root: str
    log_root: str


def leaf_hash(data: bytes) -> bytes:
    """SHA-256 of 0x00 and the leaf (RFC 9162 2.1.1)."""
    return hashlib.sha256(b"\x00" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """SHA-256 of 0x01 and both children (RFC 9162 2.1.1)."""
    return hashlib.sha256(b"\x01" + left + right).digest()


def merkle_root(leaves: Sequence[bytes]) -> bytes:
    """The Merkle tree hash of `leaves`; the SHA-256 of nothing when there are none (RFC 9162 2.1.1)."""
    if not leaves:
        return hashlib.sha256(b"").digest()
    # Whole subtrees, largest first: folding equal heights needs no recursion and splits exactly at
    # the largest power of two below n.
    stack: list[tuple[int, bytes]] = []
    for data in leaves:
        height, digest = 0, leaf_hash(data)
        while stack and stack[-1][0] == height:
            digest = node_hash(stack.pop()[1], digest)
            height += 1
        stack.append((height, digest))
    digest = stack.pop()[1]
    while stack:
        digest = node_hash(stack.pop()[1], digest)
    return digest


def _split(size: int) -> int:
    """The largest power of two below `size`."""
    return 1 << (size - 1).bit_length() - 1


def inclusion_proof(leaves: Sequence[bytes], index: int) -> tuple[bytes, ...]:
    """The hashes that lead from leaf `index` (from 0) to the root (RFC 9162 2.1.3.1)."""
    require(0 <= index < len(leaves), f"index must be 0..{len(leaves) - 1}, got {index}")
    if len(leaves) == 1:
        return ()
    split = _split(len(leaves))
    if index < split:
        return (*inclusion_proof(leaves[:split], index), merkle_root(leaves[split:]))
    return (*inclusion_proof(leaves[split:], index - split), merkle_root(leaves[:split]))


def check_inclusion(leaf: bytes, index: int, size: int, proof: Sequence[bytes], root: bytes) -> bool:
    """Whether `proof` shows that `leaf` is number `index` of `size` under `root` (RFC 9162 2.1.3.2)."""
    if not 0 <= index < size:
        return False
    place, last, digest = index, size - 1, leaf_hash(leaf)
    for step in proof:
        if last == 0:
            return False
        if place & 1 or place == last:
            digest = node_hash(step, digest)
            while not place & 1 and place:
                place >>= 1
                last >>= 1
        else:
            digest = node_hash(digest, step)
        place >>= 1
        last >>= 1
    return last == 0 and digest == root


def consistency_proof(leaves: Sequence[bytes], earlier: int) -> tuple[bytes, ...]:
    """The hashes that show that the first `earlier` leaves are unchanged (RFC 9162 2.1.4.1)."""
    require(0 < earlier <= len(leaves), f"earlier must be 1..{len(leaves)}, got {earlier}")
    return _subproof(leaves, earlier, True)


def _subproof(leaves: Sequence[bytes], earlier: int, complete: bool) -> tuple[bytes, ...]:
    if earlier == len(leaves):
        return () if complete else (merkle_root(leaves),)
    split = _split(len(leaves))
    if earlier <= split:
        return (*_subproof(leaves[:split], earlier, complete), merkle_root(leaves[split:]))
    return (*_subproof(leaves[split:], earlier - split, False), merkle_root(leaves[:split]))


def check_consistency(
    earlier: int, size: int, proof: Sequence[bytes], earlier_root: bytes, root: bytes
) -> bool:
    """Whether `proof` shows that the tree of `size` begins with that of `earlier` (RFC 9162 2.1.4.2)."""
    if not 0 < earlier <= size:
        return False
    if earlier == size:
        return not proof and earlier_root == root
    path = [earlier_root, *proof] if earlier & (earlier - 1) == 0 else list(proof)
    if not path:
        return False
    place, last = earlier - 1, size - 1
    while place & 1:
        place >>= 1
        last >>= 1
    old = new = path[0]
    for step in path[1:]:
        if last == 0:
            return False
        if place & 1 or place == last:
            old, new = node_hash(step, old), node_hash(step, new)
            while not place & 1 and place:
                place >>= 1
                last >>= 1
        else:
            new = node_hash(new, step)
        place >>= 1
        last >>= 1
    return last == 0 and old == earlier_root and new == root


def head_of(ids: Sequence[str]) -> Head:
    """The head of a record whose event ids, in the order of this store, are `ids`."""
    leaves = [bytes.fromhex(event_id) for event_id in ids]
    return Head(
        size=len(leaves),
        root=merkle_root(sorted(leaves)).hex(),
        log_root=merkle_root(leaves).hex(),
    )


FIRST_ARRIVAL = "0" * 64
"""What stands before the first link of the arrival chain."""


def next_arrival(previous: str, event_id: str) -> str:
    """The arrival link of an event: SHA-256 of the link before it and its id, both as 32 bytes.

    It names the exact place where rows were swapped, put in or taken out without a new chain; who
    rewrites the whole chain is found by an earlier head.
    """
    return hashlib.sha256(bytes.fromhex(previous) + bytes.fromhex(event_id)).hexdigest()


def read_head(data: bytes) -> Head:
    """A head from ``head.json`` or from the output of ``record head --json``; ValueError when it is none."""
    try:
        content = json.loads(data)
        size: Any = content["size"]
        require(isinstance(size, int) and size >= 0, f"size must be a whole number, got {size!r}")
        head = Head(size=size, root=content["root"], log_root=content["log_root"])
        for root in (head.root, head.log_root):
            require(len(bytes.fromhex(root)) == 32, f"a root must be 64 hexadecimal digits, got {root!r}")
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise ValueError(f"a head must have size, root and log_root: {error}") from error
    return head
