"""What holds for every test."""

from __future__ import annotations

import os

from hypothesis import settings

# Where everything runs at each change, fewer examples must do; whoever runs the tests by hand sees a hundred.
settings.register_profile("at each change", settings.get_profile("ci"), max_examples=30)
if os.environ.get("COATBELL_TESTS_NOTHING_SKIPPED"):
    settings.load_profile("at each change")
