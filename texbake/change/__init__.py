"""After a UV change: what was baked last, compared with the mesh as it is now."""
