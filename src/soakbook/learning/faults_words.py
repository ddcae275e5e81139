"""Names of faults in words, and the check that settles each."""

from __future__ import annotations

from soakbook.garden.model import Place
from soakbook.learning.faults_cases import Case
from soakbook.said import Said, pattern, say

_WHAT = {"bed": say("this bed"), "pot": say("this pot"), "tray": say("this tray")}
_NAMES = {
    "blocked": pattern("Much less water than meant seems to come out at {what}: an emitter, filter or hose may be blocked."),
    "leak": pattern("Water seems to get lost on its way to {what}: there may be a leak."),
    "left on": pattern("The water at {what} seems to have run for much longer than was written down."),
    "never opened": pattern("Waterings of {what} that were written down seem not to have happened: was a tap or valve shut?"),
    "compacted": pattern("Roots and water in {what} seem to stop early, as they do on a hard layer."),
    "repels": pattern("Water seems to run through {what} without wetting it, as it does once a mix has dried out."),
}  # fmt: skip
_LESS_RAIN = pattern("Far less rain seems to reach {what} than is counted: something may keep it off.")
_MORE_RAIN = pattern("More rain seems to fall on {what} than the gauge shows: the gauge may stand in a rain shadow.")
_CHECKS = {
    "blocked": say("Put a cup under two emitters for five minutes and compare; look into the filter. Do not turn up the pressure."),
    "leak": say("Look at the water meter with everything shut: does it turn? Then let the line run and look for wet ground along it."),
    "left on": say("Look whether the tap, valve or timer shuts off fully, and read the meter before and after the next watering."),
    "never opened": say("Be there at the next watering: is the tap open, does the timer's battery hold, does water come out?"),
    "compacted": say("When the soil is moist, push a thin rod in by hand at three spots: does it stop at one depth? Mind buried pipes and cables."),
    "repels": say("Pour on a little and look: does it stand in beads, or run out below at once while the mix stays light? If so, water slowly in several goes."),
}  # fmt: skip
_JAR_HERE = say("Put one straight-sided jar here and one in the open before the next rain, and compare.")
_JAR_GAUGE = say("Put a straight-sided jar in the open, away from walls and trees, for the next rain, and compare it with the gauge.")  # fmt: skip


def odds_said(odds: float) -> Said:
    """A chance in words and tenths. The words by tenths are judged, as for rain; certainty is never said.

    >>> odds_said(0.62), odds_said(0.97)
    ('as likely as not (6 in 10)', 'very likely (9 in 10 or more)')
    """
    n = max(1, int(10.0 * odds + 0.5))
    if n <= 2:
        return say("unlikely, but worth a look ({n} in 10)", n=n)
    if n <= 4:
        return say("possible ({n} in 10)", n=n)
    if n <= 6:
        return say("as likely as not ({n} in 10)", n=n)
    return say("likely ({n} in 10)", n=n) if n <= 8 else say("very likely (9 in 10 or more)")


def name_of(case: Case, place: Place) -> Said:
    """The fault as a sentence."""
    what = _WHAT[place.kind]
    if case.fault == "gauge in rain shadow":
        return say(_MORE_RAIN if case.more else _LESS_RAIN, what=what)
    return say(_NAMES[case.fault], what=what)


def check_of(case: Case) -> Said:
    """What to do to find out."""
    if case.fault == "gauge in rain shadow":
        return _JAR_GAUGE if case.more else _JAR_HERE
    return _CHECKS[case.fault]
