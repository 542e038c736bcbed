"""Every sentence that a person reads, made from records, which carry the facts."""
