"""What the set-up compiles is all that a round needs: nobody waits for a compiler at the first round."""

from __future__ import annotations

import subprocess
import sys

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
from soakbook.balance.compiled import use_cache
use_cache()
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
