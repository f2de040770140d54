"""Merkle trees and heads beyond the published vectors."""

from __future__ import annotations

import hashlib
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pollstead.record.standalone import verify
from pollstead.record.tree import (
    Head,
    check_consistency,
    check_inclusion,
    consistency_proof,
    head_of,
    inclusion_proof,
    merkle_root,
    read_head,
)

IDS = [hashlib.sha256(str(number).encode()).hexdigest() for number in range(40)]


@given(st.lists(st.binary(max_size=5), max_size=40))
def test_the_root_equals_its_recursive_definition(leaves: list[bytes]) -> None:
    """Folding equal heights gives what RFC 9162 defines by recursion (as the verifier computes it)."""
    assert merkle_root(leaves) == verify.merkle_root(leaves)


def test_every_proof_of_every_size_checks_and_no_other_leaf_fits() -> None:
    """All inclusion and consistency proofs of trees up to 20 leaves; a wrong leaf or size does not fit."""
    leaves = [bytes.fromhex(event_id) for event_id in IDS]
    for size in range(1, 21):
        root = merkle_root(leaves[:size])
        for index in range(size):
            proof = inclusion_proof(leaves[:size], index)
            assert check_inclusion(leaves[index], index, size, proof, root)
            assert not check_inclusion(leaves[index + 1], index, size, proof, root)
            assert size == 1 or not check_inclusion(leaves[index], (index + 1) % size, size, proof, root)
        for earlier in range(1, size + 1):
            old, proof = merkle_root(leaves[:earlier]), consistency_proof(leaves[:size], earlier)
            assert check_consistency(earlier, size, proof, old, root)
            assert not check_consistency(earlier, size, proof, merkle_root(leaves[1 : earlier + 1]), root)


@given(st.permutations(IDS[:12]))
def test_the_root_is_of_the_set_and_the_log_root_of_the_order(ids: list[str]) -> None:
    """Copies with other histories have one root; each order has its own log root."""
    head, other = head_of(IDS[:12]), head_of(ids)
    assert head.root == other.root
    assert (head.log_root == other.log_root) == (ids == IDS[:12])


def test_a_head_is_read_back_and_others_are_refused() -> None:
    """A head from JSON is the head that was written; what is none is refused by ValueError."""
    head = head_of(IDS[:3])
    content = {"size": 3, "root": head.root, "log_root": head.log_root, "layout": "x"}
    assert read_head(json.dumps(content).encode()) == head
    for wrong in (b"", b"[]", b"{}", json.dumps({**content, "size": -1}).encode(), b'{"size":1,"root":"a"}'):
        with pytest.raises(ValueError, match="head"):
            read_head(wrong)
    assert head_of([]) == Head(
        size=0, root=hashlib.sha256().hexdigest(), log_root=hashlib.sha256().hexdigest()
    )
