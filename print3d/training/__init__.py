"""Training models: posed fingers and hands, and the orthoses that go on them."""
