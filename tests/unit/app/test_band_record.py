"""How well the bands have held: counted, and judged by the binomial distribution."""

from __future__ import annotations

from datetime import UTC, date, datetime

import numpy as np
import pytest
from scipy.stats import binom

from soakbook.app.band_record import BAND, LEAST_READINGS, UNLIKELY, Record, at_most, record_of, record_words
from soakbook.app.reader import Reader
from soakbook.learning.bands import Held, part_inside
from soakbook.learning.reading import Reading

R = Reader()


@pytest.mark.parametrize("n", [1, 8, 20, 60])
def test_the_odds_of_a_count_are_those_of_the_binomial_distribution(n: int) -> None:
    """Against scipy's binomial distribution."""
    for inside in range(n + 1):
        assert at_most(inside, n) == pytest.approx(float(binom.cdf(inside, n, BAND)), abs=1e-12)


def test_nothing_is_said_without_readings() -> None:
    assert record_words(Record(0, 0), R) == ""


def test_the_count_is_told_as_it_is() -> None:
    assert record_words(Record(18, 15), R).startswith("Of 18 readings so far, 15 lay within the band")
    assert "The one reading so far" in record_words(Record(1, 1), R)


def test_classes_count_in_parts_and_the_words_say_so() -> None:
    felt = Reading("a", datetime(2017, 7, 1, 8, tzinfo=UTC), "feel", 1.0)
    held = [Held(date(2017, 7, 1), felt, part, 0.5) for part in (0.75, 0.8, 1.0, 0.2)]
    assert record_of(held) == Record(4, 3, in_parts=True)
    assert "counts with the part of it" in record_words(record_of(held), R)
    assert "part" not in record_words(record_of(held[2:3]), R)


@pytest.mark.parametrize("n", [20, 60, 200])
def test_right_bands_are_seldom_blamed_where_every_reading_is_a_class(n: int) -> None:
    """Drawn: dry, moist or wet with odds that differ from day to day, held against just those odds; blamed no more often than stated."""
    rng = np.random.default_rng(n)
    blamed = 0
    for _ in range(200):
        cuts = np.sort(rng.random((n, 2)), axis=1)
        edges = np.hstack([np.zeros((n, 1)), cuts, np.ones((n, 1))])
        which = (rng.random((n, 1)) > cuts).sum(axis=1)
        rows = np.arange(n)
        inside = [
            part_inside(float(a), float(b)) for a, b in zip(edges[rows, which], edges[rows, which + 1], strict=True)
        ]
        words = record_words(Record(n, round(sum(inside)), in_parts=True), R)
        blamed += "have held" not in words
    assert blamed <= 2 * UNLIKELY * 200


def test_few_readings_are_not_judged() -> None:
    assert "too few" in record_words(Record(LEAST_READINGS - 1, 0), R)
    assert "too few" not in record_words(Record(LEAST_READINGS, 0), R)


@pytest.mark.parametrize("n", range(LEAST_READINGS, 80, 7))
def test_bands_are_called_wrong_only_where_chance_would_seldom_do_it(n: int) -> None:
    for inside in range(n + 1):
        words = record_words(Record(n, inside), R)
        narrow, wide = "too narrow" in words, "wider" in words
        assert narrow == (float(binom.cdf(inside, n, BAND)) < UNLIKELY)
        assert wide == (float(binom.sf(inside - 1, n, BAND)) < UNLIKELY)
        assert not (narrow and wide)
        assert (narrow or wide) != ("have held" in words)
