"""The migrations of the record's database, one file a revision."""
