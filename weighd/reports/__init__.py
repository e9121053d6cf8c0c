"""Reports: what is read on paper or at a desk, made from records and recordings."""
