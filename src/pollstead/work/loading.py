"""The drives of a county with its carts as the book has them: what `reconcile.custody.loads` is given."""

from __future__ import annotations

from pollstead.election.county import Election
from pollstead.plan.stations.carts import cart_lists
from pollstead.reconcile.custody.legs import legs_of
from pollstead.reconcile.custody.loads import Carried, Drive, drives, site_key
from pollstead.reconcile.custody.places import held_things
from pollstead.record.facts import Fold


def carts_of(election: Election) -> tuple[Carried, ...]:
    """Every cart and case of the book with the codes that its label may have."""
    return tuple(
        Carried(
            cart=cart.cart,
            codes=tuple(dict.fromkeys(filter(None, (cart.tag, cart.cart)))),
            site=site_key(cart.site),
            devices=len(cart.devices),
        )
        for cart in cart_lists(election.devices, election.carts, {})
    )


def drives_of(election: Election, folded: Fold | None, now_ms: int) -> tuple[Drive, ...]:
    """Every drive as tables and record have it at one moment."""
    held = {} if folded is None else held_things(legs_of(folded))
    return drives(election, carts_of(election), held, now_ms)
