"""``python -m soakbook``."""

from soakbook.cli import main

main()
