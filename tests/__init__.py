"""Checks of the whole service, laid out as the source is."""

import service as service  # it says how many threads NumPy may have, which NumPy must find said before it is loaded
