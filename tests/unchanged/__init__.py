"""What a change of structure leaves as it was: bytes of parts and measured numbers."""
