"""The sample day, and what makes it."""

import logger  # noqa: F401  # before onnxruntime, so that it sends no usage data
