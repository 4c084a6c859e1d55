"""Turns facts into the words people read."""
