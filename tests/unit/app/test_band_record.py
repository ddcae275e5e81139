"""How well the bands have held: counted, and judged by the binomial distribution."""

from __future__ import annotations

import pytest
from scipy.stats import binom

from soakbook.app.band_record import BAND, LEAST_READINGS, UNLIKELY, Record, at_most, record_words
from soakbook.app.reader import Reader

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
