"""From a file to the data model: one module per layout."""
