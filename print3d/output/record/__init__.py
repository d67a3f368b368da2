"""The record of a part."""
