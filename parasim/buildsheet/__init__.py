"""What goes to the sewing table: cutting pieces and line sheets. Knows no flight physics."""
