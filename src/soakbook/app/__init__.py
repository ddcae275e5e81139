"""The web app: pages, forms, charts as data, offline, print. It shows what the rooms below compute and changes nothing of it."""
