"""Putting the water there: what lines and taps give, how evenly, and how to lay them."""
