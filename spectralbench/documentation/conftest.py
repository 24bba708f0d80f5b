"""What builds the pages is tried by building them (`tests/documentation`), not by importing it here."""

collect_ignore_glob = ["*.py"]
