"""Every sentence a person reads, made from the facts of the rooms below."""
