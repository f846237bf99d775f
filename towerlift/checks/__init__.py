"""Each quantity against its limit: one module a check, all with the same signature."""
