"""A voice assistant, offline, for the technician who services small diesel generating sets."""

import os

# onnxruntime reports to its maker over the network, and keeps a device id, from the moment it is imported. Only this
# prevents it, and child processes inherit it. It stands here because everything of the program is imported after it.
os.environ["ORT_DISABLE_TELEMETRY"] = "1"
