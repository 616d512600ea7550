"""What goes to the sewing table: pieces of cloth, line sheets. Knows no flight physics."""
