"""Who must be told what now."""
