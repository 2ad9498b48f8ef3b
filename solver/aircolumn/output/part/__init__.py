"""Parts and shapes: files of meshes, views, a drawing, and what is said of them."""
