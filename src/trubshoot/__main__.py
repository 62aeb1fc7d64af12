"""`python -m trubshoot`."""

from trubshoot.cli.app import main

main()
