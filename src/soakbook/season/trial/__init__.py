"""The trial: ways of watering lived through, season after season, in gardens whose truth is known.

What is tried never sees the truth (:mod:`soakbook.season.truth`) but through what a grower could see, and never the future but
through a forecast that is as good as forecasts are.
"""
