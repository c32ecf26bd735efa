"""`python -m pulsewright` is the same as the `pulsewright` command."""

from pulsewright.cli.main import main

if __name__ == "__main__":
    main()
