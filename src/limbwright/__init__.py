"""Limbwright."""
