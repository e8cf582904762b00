"""Drawings and results as text or bytes; nothing here touches a file."""
