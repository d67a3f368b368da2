"""Files of training models and class sets."""
