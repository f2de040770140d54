"""From a county's folder, workbook or foreign tables to election values, and back."""
