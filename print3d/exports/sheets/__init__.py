"""What is held in the hand: PDF sheets at true size, flat pattern, record."""
