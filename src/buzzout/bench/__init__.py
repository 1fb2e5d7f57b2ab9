"""At the bench: from the punch list to the record, in plain text files that nobody loses."""
