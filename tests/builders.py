"""Builders for tests: each makes something whole, and names only what the test is about."""
