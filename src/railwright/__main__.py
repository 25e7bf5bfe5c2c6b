"""`python -m railwright`: the same as the command `railwright`."""

from railwright.cli import main

if __name__ == "__main__":
    main()
