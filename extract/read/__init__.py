"""The learned reader: what the words of a note mean, and what they belong to."""
