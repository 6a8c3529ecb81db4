"""Invented clients with known tolerance, for testing, planning and teaching. Never evidence."""
