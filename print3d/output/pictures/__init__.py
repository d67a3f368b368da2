"""Pictures of limb and orthosis."""
