"""From spectrum to spectrum: one module per correction."""
