"""Trees of pipes solved, or an error: an answer that did not settle is none."""

from __future__ import annotations

from soakbook.errors import SoakbookError
from soakbook.physics.pipes import Feed
from soakbook.physics.pipes_tree import Flows, Friction, Network, solve
from soakbook.said import say


def solved(tree: Network, feed: Feed, friction: Friction = "darcy") -> Flows:
    """:func:`soakbook.physics.pipes_tree.solve`, and an error where that did not settle."""
    flows = solve(tree, feed, friction)
    if not flows.converged:
        raise SoakbookError(
            say("The flows in the pipes did not settle (an emitter is still {miss:g} m off).", miss=flows.miss_m),
            code="pipes.not_converged",
        )
    return flows
