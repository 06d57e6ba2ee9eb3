"""An insertion in three dimensions: meshes of a finished record, pictures and files of them. Points in m. Floor 5."""
