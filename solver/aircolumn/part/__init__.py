"""The runner as a part: solids of runner, bank and manifold, pieces that fit a bed, and area schedules of
meshes. Needs the extra ``part`` (trimesh, manifold3d); lengths in mm, as files of shapes have them."""
