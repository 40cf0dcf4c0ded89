"""What a shell room knows and decides."""

import os

# NumPy counts its threads when it is loaded. Its matrices here are small, and threads that wait for each other on a
# busy machine made one forecast take forty times as long.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
