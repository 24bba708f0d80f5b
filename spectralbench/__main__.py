"""``python -m spectralbench`` is the same as the command ``spectralbench``."""

from spectralbench.cli import main

raise SystemExit(main())
