"""What lies before the hands: the work of the day, and what is packed."""
