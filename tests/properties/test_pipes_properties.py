"""What holds for any tree of pipes: water in is water out, units are only units, more head never gives less, like branches are alike."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from soakbook.physics.pipes import Emitter, Feed, compensating, dripper, emitter_flow_lph, tank, tap
from soakbook.physics.pipes_tree import Flows, Lateral, Manifold, Network, network, solve

few = settings(max_examples=60, deadline=None, derandomize=True)
emitters = st.one_of(
    st.builds(dripper, st.floats(0.5, 8.0), st.just(10.0), st.floats(0.4, 1.2)),
    st.builds(compensating, st.floats(0.5, 8.0), st.floats(4.0, 10.0), st.sampled_from([0.0, 1.5])),
)
laterals = st.builds(
    Lateral, emitters, st.integers(1, 80), st.floats(0.1, 0.6), st.floats(0.004, 0.02), st.floats(-0.1, 0.1)
)
manifolds = st.builds(
    Manifold, st.floats(0.008, 0.025), st.floats(0.2, 1.0), st.floats(0.0, 10.0), st.floats(-0.05, 0.05)
)
trees = st.builds(network, st.lists(laterals, min_size=1, max_size=4), manifolds)
feeds = st.one_of(
    st.builds(tank, st.floats(0.5, 40.0)),
    st.builds(tap, st.floats(10.0, 50.0), st.floats(100.0, 2000.0), st.just(0.0), st.sampled_from([8.0, float("inf")])),
)


def solved(tree: Network, feed: Feed) -> Flows:
    flows = solve(tree, feed)
    assert flows.converged
    return flows


@few
@given(trees, feeds)
def test_water_in_is_water_out(tree: Network, feed: Feed) -> None:
    flows = solved(tree, feed)
    assert flows.total_lph == pytest.approx(float(np.sum(flows.flow_lph)), rel=1e-12, abs=1e-12)
    for i in range(tree.parent.size):
        onward = float(np.sum(flows.pipe_lph[1:][tree.parent[1:] == i]))
        assert flows.pipe_lph[i] == pytest.approx(onward + flows.flow_lph[i], rel=1e-9, abs=1e-9)
    assert abs(flows.balance_error_lph) <= 1e-6 * max(flows.total_lph, 1.0)


@few
@given(trees, feeds)
def test_every_emitter_keeps_its_own_law(tree: Network, feed: Feed) -> None:
    flows = solved(tree, feed)
    for i in np.flatnonzero(tree.has_emitter)[::7]:
        law = Emitter(float(tree.k_lph[i]), float(tree.x[i]), float(tree.full_m[i]), float(tree.shut_m[i]))
        head = float(flows.head_m[i])
        assert (
            emitter_flow_lph(law, head - 2e-4) - 1e-6 <= flows.flow_lph[i] <= emitter_flow_lph(law, head + 2e-4) + 1e-6
        )


@few
@given(trees, st.floats(1.0, 30.0), st.floats(0.01, 10.0))
def test_more_head_never_gives_less(tree: Network, head_m: float, more_m: float) -> None:
    little, much = solved(tree, tank(head_m)), solved(tree, tank(head_m + more_m))
    assert much.total_lph >= little.total_lph * (1 - 1e-9)
    assert np.all(much.head_m >= little.head_m - 1e-6)
    assert np.all(much.flow_lph >= little.flow_lph - 1e-5 * (1.0 + little.flow_lph))


@few
@given(laterals, manifolds, feeds)
def test_branches_at_one_point_alike_flow_alike(lateral: Lateral, manifold: Manifold, feed: Feed) -> None:
    at_one_point = Manifold(manifold.bore_m, 1e-9, manifold.lead_m)
    tree = network([lateral] * 3, at_one_point)
    flows = solved(tree, feed)
    one, two, three = (flows.flow_lph[tree.line == j] for j in range(3))
    assert one == pytest.approx(two, rel=1e-6, abs=1e-6)
    assert one == pytest.approx(three, rel=1e-6, abs=1e-6)


@few
@given(laterals, st.floats(2.0, 30.0), st.floats(0.2, 5.0))
def test_flows_scale_as_their_dimensions_say(lateral: Lateral, head_m: float, by: float) -> None:
    """By Hazen and Williams, s times the flow in s^(1.852/4.871) times the bore loses as much."""
    wider = Lateral(Emitter(lateral.emitter.k_lph * by, lateral.emitter.x, lateral.emitter.full_m, lateral.emitter.shut_m),
                    lateral.count, lateral.spacing_m, lateral.bore_m * by ** (1.852 / 4.871), lateral.rise)  # fmt: skip
    one, other = (solve(network([each]), tank(head_m), "hazen_williams") for each in (lateral, wider))
    assert one.converged
    assert other.converged
    assert other.flow_lph == pytest.approx(by * one.flow_lph, rel=1e-6, abs=1e-6)
    assert other.head_m == pytest.approx(one.head_m, abs=1e-6)


@few
@given(laterals, st.floats(10.0, 50.0), st.floats(100.0, 2000.0), st.floats(5.0, 20.0))
def test_a_reducer_holds_its_head_or_stands_open(
    lateral: Lateral, static_m: float, flow_lph: float, set_m: float
) -> None:
    flows = solved(network([lateral]), tap(static_m, flow_lph, set_m=set_m))
    if flows.is_reduced:
        assert flows.head_m[0] == pytest.approx(set_m, abs=1e-9)
    else:
        assert flows.head_m[0] <= set_m + 1e-6 or static_m <= set_m
        assert flows.head_m[0] == pytest.approx(static_m * (1.0 - (flows.total_lph / flow_lph) ** 2), abs=1e-6)
