"""PIP extension orthosis."""
