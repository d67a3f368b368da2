"""Training models: closed printable bodies of fingers and hands, posed, named and mounted."""
