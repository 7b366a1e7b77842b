"""The crew's side: sound, photos and words in; hear, keep, find; the commands.

Nothing leaves the laptop, so what the libraries would do on their own is turned off here: this runs before any module
of `logger` can import one of them. `tests/logger/test_offline.py` traces whether it holds. What they would cost is
kept down here too.
"""

import os
import socket

from platformdirs import user_cache_path

os.environ["ORT_DISABLE_TELEMETRY"] = "1"  # onnxruntime sends usage data from 1.29 on, and keeps a device ID
os.environ["HF_HUB_OFFLINE"] = "1"  # huggingface_hub would look for models, and sends usage data
os.environ["PYDANTIC_DISABLE_PLUGINS"] = "__all__"  # to look for plugins it would read every installed package
os.environ["MPLCONFIGDIR"] = str(user_cache_path("fallbook") / "matplotlib")  # a list of fonts, beside the model
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # NumPy's threads wait for each other by spinning: twice the work
socket.has_ipv6 = False  # urllib3, which spaCy imports, would open a socket at import to see whether it can

VERSION = "0.1.0"
"""As pyproject.toml has it: to look it up among the installed packages takes longer than all else of `--version`."""
