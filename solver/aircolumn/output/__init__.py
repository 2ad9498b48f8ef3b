"""What commands print, write and draw, by subject: text, files, pictures, page."""
