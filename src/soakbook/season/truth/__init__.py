"""A garden whose truth is known: what waterings are tried out on.

It shares nothing with :mod:`soakbook.balance`: water moves by the Richards equation, roots draw by Feddes, and every soil,
plant, valve, probe and fault is drawn at random around what the grower believes.
"""
