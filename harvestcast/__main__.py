"""``python -m harvestcast``: the command line."""

from harvestcast.report.command.main import main

if __name__ == "__main__":
    main()
