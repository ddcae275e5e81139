"""Heads within a millimetre of EPANET's under the same friction law, and near those of other ways: see :mod:`tests.measured.delivery_pipes`."""

from __future__ import annotations

import pytest

from tests.measured.delivery_check import Case, hold, ids
from tests.measured.delivery_pipes import EPANET_FLOWS, EPANET_HEADS, OTHER


@pytest.mark.parametrize(("heads", "flows"), list(zip(EPANET_HEADS, EPANET_FLOWS, strict=True)), ids=ids)
def test_heads_and_flows_are_those_of_epanet(heads: Case, flows: Case) -> None:
    hold(heads)
    hold(flows)


@pytest.mark.parametrize("case", OTHER, ids=ids)
def test_darcys_heads(case: Case) -> None:
    hold(case)
