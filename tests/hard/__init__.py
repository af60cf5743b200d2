"""Hard to break: under load, faults, mistakes and malice nothing that was saved is lost."""
