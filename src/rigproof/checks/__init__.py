"""The rules and the verdict."""
