"""`python -m shipworthy`: the same verbs where the package is there but its command is not installed."""

from shipworthy.cli.main import main

if __name__ == "__main__":
    main()
