"""``python -m loomwright.cli`` is the program too."""

from loomwright.cli import main

main()
