"""The catch-cup test as its page shows it: what is typed in, how even it is, where it is worst, why, and how long to run."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from soakbook.app.cups_svg import cups_svg
from soakbook.errors import InputError, InputErrors
from soakbook.said import as_written, say

if TYPE_CHECKING:
    from soakbook.app.reader import Reader
    from soakbook.delivery.cups import CupTest

#: The most cups and lines a page takes, and the most characters of a field.
MOST_CUPS, MOST_LINES, MOST_TEXT = 300, 30, 4000
PLAIN = {"caught": "", "after": "", "need": "", "label": ""}
_CLASSES = {"excellent": say("excellent"), "good": say("good"), "fair": say("fair"), "poor": say("poor")}


@dataclass(frozen=True)
class Cups:
    """What was typed in: lines of amounts in one measure, hours the cups stood, what is needed, what the label says an hour."""

    lines: tuple[tuple[float, ...], ...]
    hours: float | None
    need: float | None
    label_per_hour: float | None


@dataclass(frozen=True)
class CupsShown:
    """The answer. ``worst`` and ``every`` are rows of tables: line, cup, caught, of the mean."""

    lead: str
    run: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]
    worst: tuple[tuple[str, ...], ...]
    causes: tuple[str, ...]
    notes: tuple[str, ...]
    every: tuple[tuple[str, ...], ...]
    svg: str


def fields_from(sent: Mapping[str, str]) -> dict[str, str]:
    """The form's fields as they were sent, shortened to what a page takes."""
    return {name: sent.get(name, first).strip()[:MOST_TEXT] for name, first in PLAIN.items()}


def cups_from(fields: Mapping[str, str]) -> Cups:
    """What was typed in; everything that is wrong at once, by the form's fields."""
    from soakbook.units import parse_quantity

    wrong: list[InputError] = []
    lines: tuple[tuple[float, ...], ...] = ()
    amounts: dict[str, float | None] = {"need": None, "label": None}
    hours = None
    try:
        lines = _lines(fields["caught"])
    except InputError as error:
        wrong.append(error)
    for name in amounts:
        try:
            amounts[name] = _above_zero(fields[name], name)
        except InputError as error:
            wrong.append(error)
    try:
        hours = parse_quantity(fields["after"], "duration", bare="min", field="after") if fields["after"] else None
        if hours is not None and not hours > 0.0:
            raise InputError(
                say("This must be above 0 (got {got}).", got=fields["after"]), code="cups.after", field="after"
            )
        if hours is None and (fields["need"] or fields["label"]):
            raise InputError(
                say("Say how long the cups stood: what is needed and the label go by it."),
                code="cups.after",
                field="after",
            )
    except InputError as error:
        wrong.append(error)
    if wrong:
        raise InputErrors(wrong)
    return Cups(lines, hours, amounts["need"], amounts["label"])


def by_field(error: InputError) -> dict[str, list[InputError]]:
    """Errors by the form's fields."""
    found: dict[str, list[InputError]] = {}
    for one in error.errors if isinstance(error, InputErrors) else [error]:
        found.setdefault(one.field if one.field in PLAIN else "caught" if one.field == "cups" else "", []).append(one)
    return found


def _lines(text: str) -> tuple[tuple[float, ...], ...]:
    """Amounts by line: each line of the text, or part between strokes, is one line of the bed."""
    from soakbook.delivery.cups import lines_read

    lines = lines_read(text, "caught")
    if len(lines) > MOST_LINES or sum(map(len, lines)) > MOST_CUPS:
        raise InputError(
            say("Up to {cups} cups on {lines} lines are taken.", cups=MOST_CUPS, lines=MOST_LINES), code="cups.many", field="caught"
        )  # fmt: skip
    return lines


def _above_zero(text: str, field: str) -> float | None:
    if not text:
        return None
    from soakbook.delivery.cups import amount_read

    value = amount_read(text, field)
    if not value > 0.0:
        raise InputError(say("This must be above 0 (got {got}).", got=text), code="cups.above_zero", field=field)
    return value


# --- the answer ------------------------------------------------------------------------------------------------------------
def cups_shown(cups: Cups, r: Reader) -> CupsShown:
    """Judge the cups, and say so in the reader's words."""
    from soakbook.delivery.cups import judge_cups

    test = judge_cups(cups.lines, caught_hours=cups.hours, need=cups.need, label_per_hour=cups.label_per_hour)
    low = {(p.line, p.at) for p in test.worst}
    return CupsShown(
        lead=r.t(
            "{word}: the driest quarter gets {share} of the mean.", word=_capital(r.tell(_CLASSES[test.uniformity_class])),
            share=r.percent(test.du_pct / 100.0),
        ),
        run=tuple(_run(cups, test, r)),
        facts=(
            (r.t("catch cups"), str(test.cups)),
            (r.t("mean"), plain(test.mean, r)),
            (r.t("mean of the driest quarter"), plain(test.low_quarter, r)),
            (r.t("distribution uniformity"), r.percent(test.du_pct / 100.0)),
            (r.t("Christiansen's uniformity"), r.percent(test.cu_pct / 100.0)),
        ),
        worst=tuple((str(p.line), str(p.at), plain(p.amount, r), r.percent(p.of_mean)) for p in test.worst),
        causes=tuple(r.tell(text) for text in test.causes),
        notes=tuple(r.tell(text) for text in test.notes),
        every=tuple(
            (str(k), str(i), plain(v, r), r.percent(v / test.mean))
            for k, line in enumerate(cups.lines, start=1)
            for i, v in enumerate(line, start=1)
        ),
        svg=cups_svg(cups.lines, test.mean, low, r),
    )  # fmt: skip


def _run(cups: Cups, test: CupTest, r: Reader) -> list[str]:
    if test.times_longer is None:
        return [r.t("The driest quarter got nothing: no run time is right for it. Mend the line first.")]
    extra = test.times_longer - 1.0
    if extra < 0.005:
        out = [r.t("What is right for the mean is right for the driest quarter.")]
    else:
        out = [r.t("To give the driest quarter what the mean gets, run {share} longer.", share=r.percent(extra))]
    if test.run_hours is not None and cups.need is not None:
        out.append(r.t(
            "Run {time}: then the driest quarter has the {need} it needs, and the mean has {mean}.",
            time=r.quantity(test.run_hours, "duration"), need=plain(cups.need, r), mean=plain(cups.need * test.times_longer, r),
        ))  # fmt: skip
    return out


def plain(value: float, r: Reader) -> str:
    """An amount to four figures, in whatever measure it was caught."""
    return as_written(float(f"{value:.4g}"), "g").replace(".", r.decimal)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
