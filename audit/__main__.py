"""`python -m audit` is `cornerstop`."""

from audit.cli.entry import main

main()
