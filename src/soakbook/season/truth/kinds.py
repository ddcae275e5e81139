"""What lies under a column and what is summed for it: names shared by the solver and those who call it."""

from __future__ import annotations

#: The water runs on by its own weight; it drips out of holes once the base is saturated (a pot); a given head; nothing passes.
FREE, SEEPAGE, HEAD, CLOSED = range(4)

#: What is summed for each column over a call [cm], then how the solution went.
INFLOW, RUNOFF, EVAPORATION, TRANSPIRATION, DRAINAGE, BEFORE, AFTER, AIR_HOURS, WET_HOURS, STEPS, ITERATIONS, FAILED = (
    range(12)
)
SUMS = 12
