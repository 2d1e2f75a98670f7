"""Text to rig and back, with file, line and column; the gear library; history."""
