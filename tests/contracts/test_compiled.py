"""What the set-up compiles is all that a round needs: nobody waits for a compiler at the first round."""

from __future__ import annotations

import subprocess
import sys
from importlib import import_module
from pathlib import Path

import pytest

from soakbook.machine_code import cache_folder

ROUND = """
import sys
from soakbook.balance import compiled, rollout, run
run.warm_up()
rollout.warm_up()
kernels = compiled.run_places(), compiled.roll()
before = [len(kernel.signatures) for kernel in kernels]
sys.argv = ["soakbook", "round", "--demo"]
from soakbook.cli import main
try:
    main()
finally:
    print(before, [len(kernel.signatures) for kernel in kernels], file=sys.stderr)
"""


def test_a_round_needs_no_kernel_beyond_those_the_set_up_compiles() -> None:
    done = subprocess.run([sys.executable, "-c", ROUND], capture_output=True, text=True, check=True)
    assert done.stderr.splitlines()[-1] == "[1, 1] [1, 1]"


PIPES = """
import sys
from soakbook.physics import _pipes_kernel, pipes_tree
pipes_tree.warm_up()
kernels = _pipes_kernel.solve_tree, _pipes_kernel.emitted
before = [len(kernel.signatures) for kernel in kernels]
sys.argv = ["soakbook", "pipes", "--tap", "3 bar, 10 L/min", "--lines", "3"]
from soakbook.cli import main
try:
    main()
finally:
    print(before, [len(kernel.signatures) for kernel in kernels], file=sys.stderr)
"""


def test_pipes_need_no_kernel_beyond_those_the_set_up_compiles() -> None:
    done = subprocess.run([sys.executable, "-c", PIPES], capture_output=True, text=True, check=True)
    assert done.stderr.splitlines()[-1] == "[1, 1] [1, 1]"


KERNELS = (
    "soakbook.balance.kernel:run_places",
    "soakbook.balance.rollout_kernel:roll",
    "soakbook.physics._pipes_kernel:solve_tree",
    "soakbook.physics.wetting._kernel:run",
    "soakbook.physics._fast_et:_rows",
)


@pytest.mark.parametrize("kernel", KERNELS)
def test_a_kernel_imported_by_itself_is_kept_where_the_set_up_keeps_it(kernel: str) -> None:
    """Whatever was imported before it, here by the other tests: a kernel made before the folder is set is compiled again elsewhere."""
    module, name = kernel.split(":")
    kept = Path(getattr(import_module(module), name).stats.cache_path)
    assert kept.parent == cache_folder()
