"""The library sounddevice on a machine without PortAudio."""

raise OSError("PortAudio library not found")
