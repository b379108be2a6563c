"""The rhythm section's left hand for a solo church organist."""
