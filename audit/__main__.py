"""`python -m audit` is `cornerstop`."""

from audit.start import main

main()
