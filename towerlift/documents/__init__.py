"""What goes to paper and to spreadsheets."""
