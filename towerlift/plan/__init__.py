"""The plan as written: what it holds, how it is read and saved."""
