"""What readings teach about a place: how they are seen, how members are weighed by them, and what was learnt in words."""
