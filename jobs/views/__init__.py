"""Pages: guard, form, one action or one query, answer."""
