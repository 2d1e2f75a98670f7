"""Somebody's spreadsheet to a rig: read it, guess its columns, keep an account of every cell."""
