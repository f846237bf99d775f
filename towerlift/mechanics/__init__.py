"""Statics on plain arrays: slings, tackles, capstans, jamming guides and hanging sections."""
