"""Start of the command line."""

from frostalert.cli.main import main

if __name__ == "__main__":
    main()
